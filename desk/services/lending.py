"""Acts at the front desk that need inspections, loans and jobs together, each in one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.exceptions import UsedFormError
from core.models import User
from core.photos import CleanPhoto
from desk.selectors.lending import draft_of, walked_today
from desk.services.signing import sign_by_paper_that_came_back, sign_lent
from inventory.models import Inspection, Instrument, Purpose
from inventory.rules.readiness import aged_reason
from inventory.services.care import keep_photo
from inventory.services.inspecting import carry_over_inspection, drop_inspection, finish_inspection, start_inspection
from inventory.services.state import lock_instrument
from loans.exceptions import InspectionMissingError, StaysInError
from loans.models import Loan, Student
from loans.services import NewStudent, Signing, add_student, lend_instrument, return_loan
from repairs.models import Bench
from repairs.services.jobs import open_job


@service
def begin_hand_out_walk(*, instrument: Instrument, actor: User, at: datetime) -> Inspection:
    """Start an inspection filled in with what is known, to be corrected by whoever looks."""
    return carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=actor, at=at)


@service
def begin_return_walk(*, loan: Loan, actor: User, at: datetime) -> Inspection:
    """Start an empty return inspection, to be compared with the hand-out."""
    return start_inspection(
        instrument=loan.instrument, purpose=Purpose.RETURN, actor=actor, at=at, compared_with=loan.hand_out
    )


def _same_loan(loan: Loan, *, new_student: NewStudent | None = None, **_posted: Any) -> Loan:
    """The loan that the same form made before; a form reused for another new student is refused."""
    if new_student is not None and loan.student.name != " ".join(new_student["name"].split()):
        raise UsedFormError
    return loan


@service(once="nonce", again=_same_loan)
def lend_at_desk(
    *,
    instrument: Instrument,
    due_on: date,
    accessories: Mapping[str, int],
    signing: Signing | None,
    nonce: UUID,
    actor: User,
    at: datetime,
    student: Student | None = None,
    new_student: NewStudent | None = None,
    limits_reason: str = "",
    only_one: bool = False,
    photos: Sequence[CleanPhoto] = (),
    in_place_of: Loan | None = None,
) -> Loan:
    """Add the student if new, finish the hand-out inspection, lend, keep photos, sign: all of it or nothing.

    The hand-out inspection is the one finished today, a draft, or the last one carried over. The agreement's PDF is
    made after the commit by a task that is saved with it. Without ``signing`` the paper that came
    back before is used, or it is to be signed later (``desk.services.signing``).
    """
    borrower = student or add_student(school=instrument.school, actor=actor, at=at, **_required(new_student))
    hand_out = _hand_out_inspection(instrument, actor=actor, at=at)
    loan = lend_instrument(
        instrument=instrument,
        student=borrower,
        due_on=due_on,
        accessories=accessories,
        limits_reason=limits_reason,
        only_one=only_one,
        hand_out=hand_out,
        in_place_of=in_place_of,
        nonce=nonce,
        actor=actor,
        at=at,
    )
    for photo in photos:
        keep_photo(instrument=instrument, photo=photo, actor=actor, at=at, inspection=hand_out)
    if signing is None:
        sign_by_paper_that_came_back(loan=loan, actor=actor, at=at)
    else:
        sign_lent(loan=loan, signing=signing, actor=actor, at=at)
    return loan


def _required(new_student: NewStudent | None) -> NewStudent:
    if new_student is None:
        raise TypeError("a student or a new student is needed")
    return new_student


def _hand_out_inspection(instrument: Instrument, *, actor: User, at: datetime) -> Inspection | None:
    """The inspection it goes out with; None for what goes out on trust, before anybody has inspected it."""
    row, today = lock_instrument(instrument), timezone.localdate(at)
    walked = walked_today(row, today=today)
    if walked is not None:
        return walked
    draft = draft_of(row, purpose=Purpose.HAND_OUT)
    if draft is not None:
        return finish_inspection(inspection=draft, actor=actor, at=at)
    if row.inspected_at is None and row.trusted_until is not None and today <= row.trusted_until:
        return None
    # Copying an inspection that is too old would not make it current: somebody has to look.
    if row.inspected_at is None or aged_reason(ready_until=row.ready_until, today=today):
        text = gettext("The last inspection of %(number)s is too old. Inspect it first.")
        raise StaysInError(text % {"number": row.asset_number})
    return carry_over_inspection(instrument=row, purpose=Purpose.HAND_OUT, actor=actor, at=at, finish=True)


@service
def take_back_at_desk(
    *,
    loan: Loan,
    accessories_back: Mapping[str, int],
    actor: User,
    at: datetime,
    walked: Inspection | None = None,
    is_inspected_later: bool = False,
    bench: Bench | None = None,
    because: str = "",
) -> Loan:
    """Close the loan with the return inspection (None: same as at hand-out), and open a job if a bench is given.

    ``is_inspected_later``: without one, it goes onto the pile of what is to be inspected.
    """
    row = lock_instrument(loan.instrument_id)
    inspection = walked
    if walked is None and not is_inspected_later:
        inspection = _same_as_handed_out(loan, row, actor=actor, at=at)
    closed = return_loan(loan=loan, taken_back=inspection, accessories_back=accessories_back, actor=actor, at=at)
    if bench is not None:
        open_job(instrument=row, bench=bench, actor=actor, at=at, because=because)
    return closed


@service
def inspect_as_handed_out(*, loan: Loan, actor: User, at: datetime) -> Inspection:
    """Finish the inspection of what came back without one: somebody looked it over, and nothing is new."""
    row = lock_instrument(loan.instrument_id)
    if not row.is_return_inspection_due:
        raise InspectionMissingError(gettext("%(number)s has already been inspected.") % {"number": row.asset_number})
    return _same_as_handed_out(loan, row, actor=actor, at=at)


def _same_as_handed_out(loan: Loan, instrument: Instrument, *, actor: User, at: datetime) -> Inspection:
    if loan.hand_out is None:
        raise InspectionMissingError(
            gettext("There is no hand-out inspection to compare with. Inspect it part by part.")
        )
    draft = draft_of(instrument, purpose=Purpose.RETURN)
    if draft is not None:
        drop_inspection(inspection=draft, actor=actor, at=at)
    return carry_over_inspection(
        instrument=instrument,
        purpose=Purpose.RETURN,
        actor=actor,
        at=at,
        finish=True,
        compared_with=loan.hand_out,
    )
