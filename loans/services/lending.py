"""Handing an instrument to a student."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from core.models import User
from inventory.exceptions import InstrumentUnavailableError, UsedFormError
from inventory.models import Accessory, Inspection, Instrument, Readiness, Whereabouts
from inventory.selectors.prices import replacement_amount
from inventory.selectors.state import may_go_out, reasons_today
from inventory.services.event_log import log_event
from inventory.services.inspecting import count_accessories
from inventory.services.state import move_instrument
from loans.exceptions import (
    AccessoriesError,
    DueDateError,
    InspectionMissingError,
    LimitsReasonError,
    StaysInError,
    StudentRefusedError,
)
from loans.models import Loan, Student
from loans.rules.due import LONGEST_LOAN


@transaction.atomic
def lend_instrument(
    *,
    instrument: Instrument,
    student: Student,
    due_on: date,
    accessories: Mapping[str, int],
    hand_out: Inspection,
    actor: User,
    at: datetime,
    nonce: UUID,
    limits_reason: str = "",
) -> Loan:
    """Hand it out with what goes along, or refuse and write nothing.

    ``accessories`` maps accessory codes to how many go along. The same nonce again returns the loan made before.
    Raises one of the refusals of ``loans.exceptions``, or InstrumentUnavailableError when somebody else was faster.
    """
    before = Loan.objects.filter(nonce=nonce).first()
    if before is not None:
        return _same_loan(before, instrument, student)
    lent_on = timezone.localdate(at)
    fresh = Instrument.objects.get(pk=instrument.pk)
    _check_student(fresh, Student.objects.select_for_update().get(pk=student.pk))  # nobody erases the student meanwhile
    _check_due(lent_on=lent_on, due_on=due_on)
    _check_hand_out(fresh, hand_out)
    _check_in_store(fresh)
    handed = _count_out(fresh, accessories, actor=actor, at=at)
    fresh = Instrument.objects.get(pk=fresh.pk)
    _check_in_store(fresh)  # counting waited for whoever was writing; that may have been the other lender
    _check_may_go_out(fresh, lent_on=lent_on)
    loan, is_new = _write_loan(
        instrument=fresh,
        student=student,
        lent_at=at,
        lent_on=lent_on,
        due_on=due_on,
        actor=actor,
        accessories=handed,
        replacement_amount=replacement_amount(fresh),
        hand_out=hand_out,
        nonce=nonce,
        **_limits(fresh, reason=limits_reason.strip()),
    )
    if is_new:
        _hand_over(loan, actor=actor, at=at)
    return loan


def _same_loan(loan: Loan, instrument: Instrument, student: Student) -> Loan:
    if (loan.instrument_id, loan.student_id) != (instrument.pk, student.pk):
        raise UsedFormError
    return loan


def _check_in_store(instrument: Instrument) -> None:
    if instrument.whereabouts != Whereabouts.IN_STORE:
        label = Whereabouts(instrument.whereabouts).label.lower()
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} is {label} and not in store. "
            "Somebody else may have been faster; nothing was changed."
        )


def _check_student(instrument: Instrument, student: Student) -> None:
    if student.school_id != instrument.school_id:
        raise StudentRefusedError("This student is not at the school that has the instrument.")
    if student.erased_at is not None or student.left_on is not None:
        raise StudentRefusedError("This student has left. Choose another, or take the leaving back first.")


def _check_due(*, lent_on: date, due_on: date) -> None:
    if due_on < lent_on:
        raise DueDateError("It cannot be due before it goes out.")
    if due_on - lent_on > LONGEST_LOAN:
        raise DueDateError("That is more than three years away. Check the year.")


def _check_hand_out(instrument: Instrument, hand_out: Inspection) -> None:
    if hand_out.instrument_id != instrument.pk or hand_out.finished_at is None:
        raise InspectionMissingError("The hand-out inspection is not finished yet.")


def _check_may_go_out(instrument: Instrument, *, lent_on: date) -> None:
    if not may_go_out(instrument, today=lent_on):
        reasons = [reason["text"] for reason in reasons_today(instrument, today=lent_on) if reason["stays_in"]]
        raise StaysInError(" ".join([f"{instrument.asset_number} stays in.", *reasons]))


def _limits(instrument: Instrument, *, reason: str) -> dict[str, Any]:
    """The loan's columns for what the horn cannot do and why it goes out all the same; empty where it has no limits."""
    if instrument.readiness != Readiness.WITH_LIMITS:
        return {"limits": [], "limits_reason": ""}
    if not reason:
        raise LimitsReasonError("It has limits: say why it goes out all the same.")
    return {"limits": list(instrument.limits), "limits_reason": reason}


def _count_out(instrument: Instrument, counts: Mapping[str, int], *, actor: User, at: datetime) -> list[dict[str, Any]]:
    """Check the counts and keep what they tell; return the rows for the loan. ``kept`` is what stays in store."""
    rows: list[Accessory] = list(instrument.accessories.all())
    unknown = set(counts) - {row.code for row in rows}
    if unknown:
        raise AccessoriesError(f"Not an accessory of this instrument: {', '.join(sorted(unknown))}.")
    if any(count < 0 for count in counts.values()):
        raise AccessoriesError("A count cannot be below nothing.")
    lacking = [row.name for row in rows if row.is_essential and counts.get(row.code, 0) < row.expected]
    if lacking:
        raise AccessoriesError(f"It cannot go out without: {', '.join(lacking)}. Find it or order it first.")
    seen = {
        row.code: counts[row.code]
        for row in rows
        if row.code in counts and (row.present is None or row.present < counts[row.code])
    }
    if seen:  # more than was known to be there: the last count was wrong, this one stands
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


def _write_loan(**fields: Any) -> tuple[Loan, bool]:
    """Create the row; the constraints decide who was first. False with the loan that the same form made before."""
    try:
        with transaction.atomic():
            return Loan.objects.create(**fields), True
    except IntegrityError:
        same = Loan.objects.filter(nonce=fields["nonce"]).first()
        if same is not None:
            return _same_loan(same, fields["instrument"], fields["student"]), False
        raise InstrumentUnavailableError(
            f"{fields['instrument'].asset_number} has just been lent by somebody else. Nothing was changed."
        ) from None


def _hand_over(loan: Loan, *, actor: User, at: datetime) -> None:
    """What a loan just written brings along: the student waits no more, the horn leaves the store, the log tells."""
    kind_code = loan.instrument.kind_code
    Student.objects.filter(pk=loan.student_id, wants_kind=kind_code).update(wants_kind="")
    move_instrument(
        instrument=loan.instrument,
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.WITH_STUDENT,
        actor=actor,
        at=at,
        reference=f"loan:{loan.pk}",
    )
    log_event(
        instrument=loan.instrument,
        act="lent",
        subject=loan,
        actor=actor,
        at=at,
        after={
            "student": loan.student_id,
            "due_on": loan.due_on,
            "accessories": {row["code"]: row["count"] for row in loan.accessories},
            "has_limits": bool(loan.limits_reason),
        },
    )
