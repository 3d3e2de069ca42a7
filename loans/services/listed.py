"""Loans that were there before their instruments were registered: a list says who has them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple
from uuid import UUID

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import service
from core.day_bounds import DUE, RECORDED
from core.days import full_day
from core.models import User
from core.traces import as_left
from inventory.models import Instrument, Whereabouts
from inventory.selectors.prices import replacement_amount
from inventory.services.event_log import log_event
from inventory.services.state import lock_instruments, move_instruments
from loans.exceptions import DueDateError, StaysInError, StudentRefusedError
from loans.models import Loan, Student
from loans.selectors.sharing import why_each_is_shared


class Listed(NamedTuple):
    """What a list says of one instrument that is out."""

    instrument: Instrument
    student: Student
    since: date
    due_on: date
    nonce: UUID


@service
def lend_as_listed(*, listed: Sequence[Listed], is_signed_elsewhere: bool, actor: User, at: datetime) -> list[Loan]:
    """Record that each student has had the instrument since that day: nobody handed it out here.

    What goes with it is not counted, and there is no hand-out inspection to compare with when it comes back.
    What is shared in class stays in the room and is refused. ``is_signed_elsewhere``: the families have signed, on papers that are kept elsewhere; else they are still to sign.
    """
    rows = dict(zip(listed, lock_instruments(*(one.instrument for one in listed)), strict=True))
    keys = {one.student.pk for one in listed}
    students = {one.pk: one for one in Student.objects.select_for_update().filter(pk__in=keys).order_by("pk")}
    for why in why_each_is_shared([row.pk for row in rows.values()]).values():
        raise StaysInError(why)
    earlier = Loan.objects.not_undone().filter(instrument__in=[row.pk for row in rows.values()])
    back = dict(earlier.order_by().values_list("instrument").annotate(Max("returned_at")))
    for one in listed:
        _check(one, rows[one], students, today=timezone.localdate(at), back_at=back.get(rows[one].pk))
    loans = Loan.objects.bulk_create(
        Loan(
            instrument=row,
            school=row.school,
            student=students[one.student.pk],
            lent_at=at,
            lent_on=one.since,
            due_on=one.due_on,
            actor=actor,
            is_signed_elsewhere=is_signed_elsewhere,
            replacement_amount=replacement_amount(row),
            was_waiting=one.student.wants_kind == row.kind_code,
            nonce=one.nonce,
        )
        for one, row in rows.items()
    )
    if waited := [loan.student_id for loan in loans if loan.was_waiting]:
        Student.objects.filter(pk__in=waited).update(wants_kind="")
    move_instruments(
        references={loan.instrument: f"loan:{loan.pk}" for loan in loans},
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.WITH_STUDENT,
        actor=actor,
        at=at,
    )
    for loan in loans:
        log_event(
            instrument=loan.instrument,
            act="lent_as_listed",
            subject=loan,
            after={
                "student": loan.student_id,
                "since": loan.lent_on,
                "due_on": loan.due_on,
                "is_signed_elsewhere": is_signed_elsewhere,
                **as_left(loan, "replacement_amount"),
            },
        )
    return loans


def _check(
    one: Listed, instrument: Instrument, students: Mapping[int, Student], *, today: date, back_at: datetime | None
) -> None:
    student = students.get(one.student.pk)
    if student is None or student.erased_at is not None or student.school_id != instrument.school_id:
        raise StudentRefusedError(_("This student is at another school than the instrument."))
    RECORDED.check(one.since, today=today, label=_("Out since"), refusal=DueDateError)
    DUE.check(one.due_on, today=today, label=_("Due back"), refusal=DueDateError)
    if one.due_on < one.since:
        raise DueDateError(_("The due date cannot be before the loan begins."))
    if back_at and one.since < (back_on := timezone.localdate(back_at)):
        words = _("%(number)s was with somebody else until %(day)s. Say a day after that.")
        raise DueDateError(words % {"number": instrument.asset_number, "day": full_day(back_on)})
