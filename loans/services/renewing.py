"""Another term with the same instrument and student, which does not come back in between."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.models import User
from core.traces import as_left
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Whereabouts
from inventory.selectors.prices import replacement_amount
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument
from loans.models import Loan
from loans.services.lending import check_due, check_student
from loans.services.mistakes import lock_open_loan


@service(once="nonce")
def renew_loan(*, loan: Loan, due_on: date, actor: User, at: datetime, nonce: UUID) -> Loan:
    """End this term and begin the next with what went out before; its agreement is to be signed.

    Nobody looked at the instrument, so the new loan is compared at its return with the inspection it went out with
    first. Raises AlreadyReturnedError, InstrumentUnavailableError, or what ``lend_instrument`` raises for student and day.
    """
    lent_on = timezone.localdate(at)
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_open_loan(loan)
    if instrument.whereabouts != Whereabouts.WITH_STUDENT:
        text = _("%(number)s is not with the student. Settle where it is first.")
        raise InstrumentUnavailableError(text % {"number": instrument.asset_number})
    borrower = lock_row(fresh.student)
    check_student(instrument=instrument, student=borrower)
    check_due(lent_on=lent_on, due_on=due_on)
    fresh.returned_at, fresh.returned_to = at, actor
    fresh.accessories_back = [{name: row[name] for name in ("code", "name", "count")} for row in fresh.accessories]
    fresh.save(update_fields=["returned_at", "returned_to", "accessories_back"])
    new = Loan.objects.create(
        instrument=instrument,
        school=fresh.school,
        student=borrower,
        lent_at=at,
        lent_on=lent_on,
        due_on=due_on,
        actor=actor,
        accessories=fresh.accessories,
        replacement_amount=replacement_amount(instrument),
        hand_out=fresh.hand_out,
        limits=fresh.limits,
        limits_reason=fresh.limits_reason,
        nonce=nonce,
    )
    log_event(instrument=instrument, school=fresh.school_id, act="renewed", subject=fresh, after={"loan": new.pk})
    log_event(
        instrument=instrument,
        school=new.school_id,
        act="lent",
        subject=new,
        after={
            "student": new.student_id,
            "due_on": new.due_on,
            "accessories": {one["code"]: one["count"] for one in new.accessories},
            "has_limits": bool(new.limits_reason),
            **as_left(new, "replacement_amount"),
        },
    )
    return new
