"""A loan that was a mistake: undone, so that it counts as never lent, and made again for the right student; a renewal too."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import already
from core.models import User
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Whereabouts
from inventory.services.care import require_hygiene
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, move_instrument
from loans.exceptions import AlreadyReturnedError, StudentRefusedError
from loans.models import Loan, Student
from loans.selectors.lending import term_before
from loans.services.lending import lend_instrument


@service
def undo_loan(*, loan: Loan, left_the_room: bool, actor: User, at: datetime) -> Loan:
    """Take a loan back as if it had not been: it is in nobody's history, and both acts stay in the log.

    If the instrument left the room, somebody may have played it, so it is cleaned before the next player. Accessories were
    never counted down, so nothing is counted up. Whoever waited for the kind waits again. Raises AlreadyReturnedError and
    writes nothing if the loan is closed; a renewal is undone by ``undo_renewal``, and refused here.
    """
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_open_loan(loan)
    if term_before(fresh) is not None:  # in storage, the term before would be open and nobody would have it
        raise AlreadyReturnedError(_("This loan renewed another one. Undo the renewal first."))
    _end_as_mistake(fresh, actor=actor, at=at)
    reference = f"loan:{fresh.pk}"
    if not left_the_room:
        Custody.objects.filter(instrument=instrument, reference=reference).update(undone_at=at)
    move_instrument(
        instrument=instrument,
        expected=Whereabouts.WITH_STUDENT,
        to=Whereabouts.IN_STORE,
        actor=actor,
        at=at,
        reference=reference,
    )
    if left_the_room:
        require_hygiene(instrument=instrument, actor=actor, at=at)
    if fresh.was_waiting:
        Student.objects.filter(pk=fresh.student_id, wants_kind="", erased_at=None).update(
            wants_kind=instrument.kind_code
        )
    log_event(
        instrument=instrument,
        school=fresh.school_id,
        act="loan_undone",
        subject=fresh,
        after={"left_the_room": left_the_room},
    )
    fresh.instrument = instrument
    return fresh


@service
def undo_renewal(*, loan: Loan, actor: User, at: datetime) -> Loan:
    """Take back the renewal that ``loan`` came from, and return the loan before it: open again, and due as it was.

    Nothing moves: the student has the instrument all along. Raises AlreadyReturnedError, or InstrumentUnavailableError
    while it is recorded elsewhere, and writes nothing.
    """
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_open_loan(loan)
    old = term_before(fresh)  # read under the lock of its instrument, as all that end a loan do
    if old is None:
        raise AlreadyReturnedError(_("This loan is not a renewal. Nothing was changed."))
    if instrument.whereabouts != Whereabouts.WITH_STUDENT:
        text = _("%(number)s is not with the student. Settle where it is first.")
        raise InstrumentUnavailableError(text % {"number": instrument.asset_number})
    _end_as_mistake(fresh, actor=actor, at=at)
    old.returned_at, old.returned_to, old.accessories_back = None, None, []
    old.save(update_fields=["returned_at", "returned_to", "accessories_back"])
    for subject, act, other in ((fresh, "loan_undone", old), (old, "renewal_undone", fresh)):
        log_event(instrument=instrument, school=subject.school_id, act=act, subject=subject, after={"loan": other.pk})
    return old


def lock_open_loan(loan: Loan) -> Loan:
    """Lock a loan that has not ended. Raises AlreadyReturnedError."""
    fresh = lock_row(loan)
    if not fresh.is_open:
        words = _("This loan is already closed. Nothing was changed.")
        raise AlreadyReturnedError(already(words, subject=fresh, acts=["returned", "loan_undone", "renewed"]))
    return fresh


def _end_as_mistake(loan: Loan, *, actor: User, at: datetime) -> None:
    loan.undone_at, loan.undone_by = at, actor
    loan.save(update_fields=["undone_at", "undone_by"])


@service(once="nonce")
def lend_to_right_student(*, loan: Loan, student: Student, actor: User, at: datetime, nonce: UUID) -> Loan:
    """Undo a loan to the wrong student and lend the same, with the same date and accessories, to the right one.

    It was the right one who took it, so nobody else played it. The agreement of the wrong loan stays with it; the new one is to be
    signed.
    """
    if student.pk == loan.student_id:
        raise StudentRefusedError(_("That is the student who has it on the record. Choose another."))
    undone = undo_loan(loan=loan, left_the_room=False, actor=actor, at=at)
    return lend_instrument(
        instrument=undone.instrument,
        student=student,
        due_on=undone.due_on,
        accessories={row["code"]: int(row["count"]) for row in undone.accessories},
        hand_out=undone.hand_out,
        limits_reason=undone.limits_reason,
        actor=actor,
        at=at,
        nonce=nonce,
    )
