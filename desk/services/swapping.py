"""A swap over the counter: the student's instrument comes in and a spare goes out, in one act."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.days import full_day
from core.models import User
from desk.services.lending import lend_at_desk, take_back_at_desk
from inventory.models import Accessory, Inspection, Instrument
from inventory.services.care import report_problem
from inventory.services.inspecting import count_accessories
from inventory.services.state import lock_instruments
from loans.exceptions import AccessoriesError, DueDateError, StaysInError
from loans.models import Loan
from loans.services import Signing
from repairs.models import Bench


@service(once="nonce")
def swap_at_desk(
    *,
    loan: Loan,
    spare: Instrument,
    accessories_back: Mapping[str, int],
    kept: Collection[str],
    nonce: UUID,
    actor: User,
    at: datetime,
    walked: Inspection | None = None,
    bench: Bench | None = None,
    because: str = "",
    limits_reason: str = "",
    due_on: date | None = None,
    signing: Signing | None = None,
) -> Loan:
    """Take back what the student has, and lend a spare of its kind: both or neither.

    The spare is due on the same day unless ``due_on`` says another, as it must where that day has passed. Without
    ``signing`` the agreement is to be signed later.
    It goes to ``bench``, or to storage, where ``because`` keeps it in until somebody has looked. ``kept`` are the codes of
    accessories that the student keeps: they count as back, and the spare's own stay here in their place.
    """
    old, new = lock_instruments(loan.instrument_id, spare)
    fresh, reason = lock_row(loan, "student", "hand_out"), because.strip()
    if new.kind_code != old.kind_code or new.pk == old.pk:
        raise StaysInError(gettext("A spare is another instrument of the same kind."))
    due = due_on or fresh.due_on
    if due_on is None and due < timezone.localdate(at):
        words = gettext("It was due on %(day)s, so the spare would be late at once. Say when the spare is due back.")
        raise DueDateError(words % {"day": full_day(fresh.due_on)})
    handed = {row["code"]: int(row["count"]) for row in fresh.accessories}
    if set(kept) - set(handed):
        raise AccessoriesError(gettext("The student can only keep what went out with it."))
    take_back_at_desk(
        loan=fresh,
        accessories_back={**accessories_back, **{code: handed[code] for code in kept}},
        walked=walked,
        bench=bench,
        because=reason,
        actor=actor,
        at=at,
    )
    if reason and bench is None:
        report_problem(instrument=old, text=reason, actor=actor, at=at)
    return lend_at_desk(
        instrument=new,
        student=fresh.student,
        due_on=due,
        accessories=_sent_with(new, old, kept={code: handed[code] for code in kept}, actor=actor, at=at),
        signing=signing,
        limits_reason=limits_reason,
        in_place_of=fresh,
        nonce=nonce,
        actor=actor,
        at=at,
    )


def _sent_with(
    spare: Instrument, old: Instrument, *, kept: Mapping[str, int], actor: User, at: datetime
) -> dict[str, int]:
    """Count what goes with the spare. What it lacks and the student keeps moves over to it from the other one."""
    rows: list[Accessory] = list(spare.accessories.all())
    going = {row.code: row.expected if row.present is None else min(row.present, row.expected) for row in rows}
    moved = {row.code: min(kept.get(row.code, 0), row.expected - going[row.code]) for row in rows}
    left = {
        row.code: max((row.present or 0) - moved[row.code], 0)
        for row in old.accessories.filter(code__in=[code for code, count in moved.items() if count])
    }
    if left:
        count_accessories(instrument=old, counts=left, actor=actor, at=at)
    return {code: count + moved[code] for code, count in going.items()}
