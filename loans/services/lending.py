"""Lending an instrument to a student."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists
from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import service
from core.day_bounds import DUE
from core.days import short_day
from core.events import already
from core.models import User
from core.traces import as_left
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Accessory, Inspection, Instrument, Readiness, Whereabouts
from inventory.selectors.prices import replacement_amount
from inventory.selectors.state import may_go_out, reasons_today
from inventory.services.event_log import log_event
from inventory.services.inspecting import count_accessories
from inventory.services.state import lock_instrument, move_instrument, state_now
from loans.exceptions import (
    AccessoriesError,
    DueDateError,
    HasOneError,
    InspectionMissingError,
    LimitsReasonError,
    StaysInError,
    StudentRefusedError,
)
from loans.models import Loan, SharedUse, Student
from loans.selectors.sharing import why_shared


@service(once="nonce")
def lend_instrument(
    *,
    instrument: Instrument,
    student: Student,
    due_on: date,
    accessories: Mapping[str, int],
    hand_out: Inspection | None,
    actor: User,
    at: datetime,
    nonce: UUID,
    limits_reason: str = "",
    only_one: bool = False,
    in_place_of: Loan | None = None,
) -> Loan:
    """Lend the instrument with its accessories, or refuse and write nothing.

    ``accessories`` maps accessory codes to how many go with it. ``hand_out`` is None only for what nobody has inspected
    and may go out on trust. ``only_one`` refuses a student who has one of the kind already; ``in_place_of`` is the loan
    that it is swapped for. Raises one of ``loans.exceptions``, or InstrumentUnavailableError if someone else was faster.
    """
    lent_on = timezone.localdate(at)
    row = lock_instrument(instrument)
    # Locked so that the student is not erased meanwhile; whether it is shared is asked along, in the same statement.
    is_shared = Exists(SharedUse.objects.open().filter(instrument=row))
    students = Student.objects.select_for_update(of=("self",), no_key=True).annotate(is_shared=is_shared)
    borrower: Any = students.get(pk=student.pk)
    check_student(instrument=row, student=borrower)
    check_due(lent_on=lent_on, due_on=due_on)
    if only_one:
        _check_only_one(row, borrower)
    _check_hand_out(row, hand_out)
    _check_in_store(row)
    if borrower.is_shared:
        raise StaysInError(why_shared(row))
    handed = _count_out(row, accessories, actor=actor, at=at)
    _check_may_go_out(state_now(row), lent_on=lent_on)
    loan = Loan.objects.create(
        instrument=row,
        school=row.school,
        student=borrower,
        lent_at=at,
        lent_on=lent_on,
        due_on=due_on,
        actor=actor,
        accessories=handed,
        replacement_amount=replacement_amount(row),
        hand_out=hand_out,
        was_waiting=borrower.wants_kind == row.kind_code,
        in_place_of=in_place_of,
        nonce=nonce,
        **_limits(row, reason=limits_reason.strip()),
    )
    if loan.was_waiting:
        Student.objects.filter(pk=borrower.pk).update(wants_kind="")
    move_instrument(
        instrument=row,
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.WITH_STUDENT,
        actor=actor,
        at=at,
        reference=f"loan:{loan.pk}",
    )
    log_event(
        instrument=row,
        act="lent",
        subject=loan,
        after={
            "student": loan.student_id,
            "due_on": loan.due_on,
            "accessories": {one["code"]: one["count"] for one in loan.accessories},
            "has_limits": bool(loan.limits_reason),
            **({"in_place_of": in_place_of.pk} if in_place_of else {}),
            **as_left(loan, "replacement_amount"),
        },
    )
    return loan


def _check_in_store(instrument: Instrument) -> None:
    if instrument.whereabouts != Whereabouts.IN_STORE:
        label = str(Whereabouts(instrument.whereabouts).label).lower()
        words = _("%(number)s is %(where)s. Someone else may have been faster; nothing was changed.")
        words %= {"number": instrument.asset_number, "where": label}
        raise InstrumentUnavailableError(already(words, subject=instrument, acts=["moved"]))


def check_student(*, instrument: Instrument, student: Student) -> None:
    if student.school_id != instrument.school_id:
        raise StudentRefusedError(_("This student is at another school than the instrument."))
    if student.erased_at is not None or student.left_on is not None:
        raise StudentRefusedError(_("This student has left. Choose another, or mark the student as back first."))


def check_due(*, lent_on: date, due_on: date) -> None:
    if due_on < lent_on:
        raise DueDateError(_("The due date cannot be before the loan begins."))
    DUE.check(due_on, today=lent_on, refusal=DueDateError)


def _check_only_one(instrument: Instrument, student: Student) -> None:
    if student.who != Student.Who.STUDENT:
        return
    held = Loan.objects.open().filter(student=student, instrument__kind_code=instrument.kind_code).for_table().first()
    if held is not None:
        words = _("%(name)s already has %(number)s, of the same kind, since %(day)s.")
        raise HasOneError(
            words % {"name": student, "number": held.instrument.asset_number, "day": short_day(held.lent_on)}
        )


def _check_hand_out(instrument: Instrument, hand_out: Inspection | None) -> None:
    if hand_out is None and instrument.inspected_at is None and instrument.trusted_until is not None:
        return
    if hand_out is None or hand_out.instrument_id != instrument.pk or hand_out.finished_at is None:
        raise InspectionMissingError(_("The hand-out inspection is not finished yet."))


def _check_may_go_out(instrument: Instrument, *, lent_on: date) -> None:
    if not may_go_out(instrument, today=lent_on):
        reasons = [reason["text"] for reason in reasons_today(instrument, today=lent_on) if reason["stays_in"]]
        stays_in = _("%(number)s may not go out.") % {"number": instrument.asset_number}
        raise StaysInError(" ".join([stays_in, *reasons]))


def _limits(instrument: Instrument, *, reason: str) -> dict[str, Any]:
    """Return the loan's columns for limits and why it goes out anyway; empty without limits."""
    if instrument.readiness != Readiness.WITH_LIMITS:
        return {"limits": [], "limits_reason": ""}
    if not reason:
        raise LimitsReasonError(_("It has limits. Say why it goes out anyway."))
    return {"limits": list(instrument.limits), "limits_reason": reason}


def _count_out(instrument: Instrument, counts: Mapping[str, int], *, actor: User, at: datetime) -> list[dict[str, Any]]:
    """Check the counts, correct the stored ones, and return the loan's rows; ``kept`` is how many stay behind."""
    rows: list[Accessory] = list(instrument.accessories.all())
    unknown = set(counts) - {row.code for row in rows}
    if unknown:
        not_its = _("Not an accessory of this instrument: %(names)s.")
        raise AccessoriesError(not_its % {"names": ", ".join(sorted(unknown))})
    if any(count < 0 for count in counts.values()):
        raise AccessoriesError(_("Enter 0 or more."))
    lacking = [str(row) for row in rows if row.is_essential and counts.get(row.code, 0) < row.expected]
    if lacking:
        missing = _("It cannot go out without: %(names)s. Find or order what is missing first.")
        raise AccessoriesError(missing % {"names": ", ".join(lacking)})
    seen = {
        row.code: counts[row.code]
        for row in rows
        if row.code in counts and (row.present is None or row.present < counts[row.code])
    }
    if seen:  # more than the last count: this one replaces it
        count_accessories(instrument=instrument, counts=seen, actor=actor, at=at)
    return [
        {
            "code": row.code,
            "name": row.name,
            "count": counts[row.code],
            "kept": max(0, (row.present or 0) - counts[row.code]),
        }
        for row in rows
        if counts.get(row.code, 0) > 0
    ]
