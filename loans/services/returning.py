"""Taking an instrument back, with its inspection or ahead of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import uuid5

from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import already
from core.models import User
from core.money import dollars
from inventory.models import Custody, Inspection, Instrument, Whereabouts
from inventory.services.care import owe_nothing_back, require_hygiene, require_return_inspection
from inventory.services.event_log import log_event
from inventory.services.inspecting import count_accessories
from inventory.services.state import lock_instrument, move_instrument
from loans.exceptions import AccessoriesError, AlreadyReturnedError, InspectionMissingError, ReturnUndoneError
from loans.models import LedgerEntry, Loan
from loans.rules.compare import accessories_short
from loans.rules.due import UNDO_FOR
from loans.rules.ledger import Sort
from loans.services.ledger import reverse_entry
from loans.services.losses import reopen_loss

OUT = (Whereabouts.WITH_STUDENT, Whereabouts.NOT_FOUND)  # an instrument lost by a student may turn up


@service
def return_loan(
    *, loan: Loan, taken_back: Inspection | None, accessories_back: Mapping[str, int], actor: User, at: datetime
) -> Loan:
    """Close the loan, put the instrument in storage, and require cleaning before the next player.

    ``accessories_back`` maps the codes that went out to how many came back. Without ``taken_back`` it goes onto the pile:
    it stays in until a return inspection is finished, which is then this loan's. Raises AlreadyReturnedError and writes
    nothing if the loan is already closed.
    """
    instrument = lock_instrument(loan.instrument_id)
    if taken_back is not None and (
        taken_back.instrument_id != instrument.pk
        or taken_back.finished_at is None
        or taken_back.finished_at < loan.lent_at
    ):
        raise InspectionMissingError(_("Inspect it first: no inspection has been finished since it went out."))
    back = _counted(loan, accessories_back)
    is_closed = (
        Loan.objects.open()
        .filter(pk=loan.pk)
        .update(returned_at=at, returned_to=actor, taken_back=taken_back, accessories_back=back)
    )
    if not is_closed:
        words = _("It has already been returned. Nothing was changed.")
        raise AlreadyReturnedError(already(words, subject=loan, acts=["returned"]))
    expected = instrument.whereabouts if instrument.whereabouts in OUT else Whereabouts.WITH_STUDENT
    move_instrument(
        instrument=instrument,
        expected=expected,
        to=Whereabouts.IN_STORE,
        actor=actor,
        at=at,
        reference=f"loan:{loan.pk}",
    )
    _count(instrument, loan, back=back, actor=actor, at=at)
    if taken_back is None:
        require_return_inspection(instrument=instrument, actor=actor, at=at)
    require_hygiene(instrument=instrument, actor=actor, at=at)
    log_event(
        instrument=instrument,
        act="returned",
        subject=loan,
        after={"inspection": taken_back and taken_back.pk, "accessories_short": _short(loan, back)},
    )
    closed = Loan.objects.select_related("student").get(pk=loan.pk)
    closed.instrument = instrument
    return closed


def _counted(loan: Loan, accessories_back: Mapping[str, int]) -> list[dict[str, Any]]:
    handed = {row["code"] for row in loan.accessories}
    unknown = set(accessories_back) - handed
    if unknown:
        raise AccessoriesError(_("Did not go out with it: %(names)s.") % {"names": ", ".join(sorted(unknown))})
    if any(count < 0 for count in accessories_back.values()):
        raise AccessoriesError(_("Enter 0 or more."))
    return [
        {"code": row["code"], "name": row["name"], "count": int(accessories_back.get(row["code"], 0))}
        for row in loan.accessories
    ]


def _count(instrument: Instrument, loan: Loan, *, back: list[dict[str, Any]], actor: User, at: datetime) -> None:
    """Count as present what came back, with what had stayed here."""
    if not back:
        return
    kept = {row["code"]: int(row.get("kept", 0)) for row in loan.accessories}
    known = set(instrument.accessories.values_list("code", flat=True))
    counts = {row["code"]: row["count"] + kept[row["code"]] for row in back if row["code"] in known}
    count_accessories(instrument=instrument, counts=counts, actor=actor, at=at)


def _short(loan: Loan, back: list[dict[str, Any]]) -> dict[str, int]:
    handed = {row["code"]: int(row["count"]) for row in loan.accessories}
    return accessories_short(handed, {row["code"]: row["count"] for row in back})


@service
def correct_accessories_back(*, loan: Loan, accessories_back: Mapping[str, int], actor: User, at: datetime) -> Loan:
    """Say what was missing of what had been counted as back; refused once the instrument is out again."""
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(loan)
    if fresh.returned_at is None or Loan.objects.not_undone().filter(
        instrument=instrument, lent_at__gte=fresh.returned_at
    ):
        raise AccessoriesError(_("It is out. Count what came with it when it is back."))
    back = _counted(fresh, accessories_back)
    if back != fresh.accessories_back:
        fresh.accessories_back = back
        fresh.save(update_fields=["accessories_back"])
        _count(instrument, fresh, back=back, actor=actor, at=at)
        log_event(
            instrument=instrument,
            act="return_recounted",
            subject=fresh,
            after={"accessories_short": _short(fresh, back)},
        )
    return fresh


@service
def undo_return(*, loan: Loan, actor: User, at: datetime) -> Loan:
    """Let a loan be open again whose instrument was taken back by a slip a moment ago.

    Accessories are counted as they were while it was out. An inspection that was finished meanwhile stays, and is offered
    when it does come back. Nobody has seen it come back: what was charged for damage is reversed, and a case of loss that ended
    since is open again, with what was taken off charged as before. Raises ReturnUndoneError and writes nothing when the moment has
    passed, or the family has paid since.
    """
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(loan)
    if fresh.returned_at is None or fresh.is_lost:
        raise ReturnUndoneError(_("It is no longer taken back. Nothing was changed."))
    charges = LedgerEntry.objects.standing().filter(loan=fresh, sort=Sort.DAMAGE).order_by("pk")
    if at - fresh.returned_at > UNDO_FOR:
        if charges:
            words = _(
                "More than a minute has passed: reverse the charge for damage on the family's account, and lend it again."
            )
            raise ReturnUndoneError(words)
        raise ReturnUndoneError(_("More than a minute has passed: lend it again to undo this."))
    reopen_loss(loan=fresh, since=fresh.returned_at, actor=actor, at=at)
    taken_off = LedgerEntry.objects.standing().filter(loan=fresh, sort=Sort.FOUND, at__gte=fresh.returned_at)
    _reverse([*charges, *taken_off.order_by("pk")], actor=actor, at=at)
    before = Custody.objects.filter(instrument=instrument, until=fresh.returned_at).order_by("-pk").first()
    Custody.objects.filter(instrument=instrument, since=fresh.returned_at, until=None).update(undone_at=at)
    move_instrument(
        instrument=instrument,
        expected=Whereabouts.IN_STORE,
        to=before.whereabouts if before else Whereabouts.WITH_STUDENT,
        actor=actor,
        at=at,
        reference=f"loan:{fresh.pk}",
    )
    _count(instrument, fresh, back=fresh.accessories, actor=actor, at=at)
    owe_nothing_back(instrument=instrument, actor=actor, at=at)
    fresh.returned_at, fresh.returned_to, fresh.taken_back, fresh.accessories_back = None, None, None, []
    fresh.save(update_fields=["returned_at", "returned_to", "taken_back", "accessories_back"])
    log_event(instrument=instrument, school=fresh.school_id, act="return_undone", subject=fresh)
    fresh.instrument = instrument
    return fresh


def _reverse(charges: Iterable[LedgerEntry], *, actor: User, at: datetime) -> None:
    """Reverse these charges, and what was taken off, unless something was paid, waived or paid back on the account since."""
    for charge in charges:
        moved = LedgerEntry.objects.standing().filter(student=charge.student_id, pk__gt=charge.pk)
        if moved.filter(sort__in=(Sort.PAYMENT, Sort.WAIVER, Sort.REFUND)).exists():
            words = _(
                "%(amount)s was charged for damage, and the account has changed since. Reverse that charge on the family's account first; then undo the return."
            )
            if charge.sort == Sort.FOUND:
                words = _(
                    "%(amount)s was credited because it was found, and the account has changed since. Reverse that on the family's account first; then undo the return."
                )
            raise ReturnUndoneError(words % {"amount": dollars(charge.amount)})
        because = _("The return was undone.")
        reverse_entry(entry=charge, because=because, actor=actor, at=at, nonce=uuid5(charge.nonce, "return undone"))


def join_return_inspection(*, inspection: Inspection, actor: User, at: datetime) -> None:
    """Give the inspection of what came back without one to its loan. Called within the act that finishes it."""
    loan = (
        Loan.objects.filter(
            instrument=inspection.instrument_id, taken_back=None, returned_at__isnull=False, is_lost=False
        )
        .order_by("-returned_at", "-pk")
        .first()
    )
    if loan is not None:
        loan.taken_back = inspection
        loan.save(update_fields=["taken_back"])
        log_event(
            instrument=inspection.instrument,
            school=loan.school_id,
            act="return_inspected",
            subject=loan,
            after={"inspection": inspection.pk},
        )
