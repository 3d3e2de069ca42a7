"""What a family is charged for a loss, and what is taken off when the instrument is found."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.models import User
from core.money import dollars
from desk.selectors.losses import found_again, loss_charge, why_not_charged
from inventory.services.state import lock_instrument
from loans.exceptions import LossRefusedError
from loans.models import LedgerEntry, Loss
from loans.rules.ledger import Sort
from loans.selectors.losses import charge_for_loss_of
from loans.services.ledger import enter_in_ledger
from loans.services.losses import end_loss


@service(once="nonce")
def charge_for_loss(*, loss: Loss, amount: Decimal, actor: User, at: datetime, nonce: UUID) -> LedgerEntry:
    """Charge the family, once the search is over, at most what the instrument was worth; the entry keeps how that came about.

    Raises LossRefusedError and writes nothing.
    """
    lock_instrument(loss.loan.instrument_id)
    lock_row(loss.loan)  # two charges at once would both see what was charged before
    fresh = lock_row(loss, "loan__instrument__school", "loan__student", "loan__hand_out")
    if fresh.is_over:
        raise LossRefusedError(_("It was found. Nothing was charged."))
    if waits := why_not_charged(fresh, today=timezone.localdate(at)):
        raise LossRefusedError(waits)
    charge = loss_charge(fresh)
    if amount > charge.most:
        words = _("At most %(most)s can be charged: what it was worth, less what was charged before.")
        raise LossRefusedError(words % {"most": dollars(charge.most)})
    return enter_in_ledger(
        student=fresh.loan.student,
        sort=Sort.LOSS,
        amount=amount,
        on=timezone.localdate(at),
        loan=fresh.loan,
        reckoning=charge.as_json(),
        actor=actor,
        at=at,
        nonce=nonce,
    )


@service(once="nonce")
def end_loss_case(
    *, loss: Loss, outcome: str, actor: User, at: datetime, nonce: UUID, found_on: date | None = None
) -> Loss:
    """End a case (``end_loss``); of what is found, take off of the charge what the rule says, in the same act."""
    ended = end_loss(loss=loss, outcome=outcome, found_on=found_on, actor=actor, at=at)
    charge = charge_for_loss_of(ended.loan)
    if not ended.is_over or charge is None or charge.student.erased_at is not None:
        return ended
    found = found_again(ended, charge)
    if not found.is_inspected:
        raise LossRefusedError(_("Inspect it first: the credit depends on its condition."))
    if found.off_amount:
        enter_in_ledger(
            student=charge.student,
            sort=Sort.FOUND,
            amount=found.off_amount,
            on=timezone.localdate(at),
            loan=ended.loan,
            reckoning=found.as_json(),
            actor=actor,
            at=at,
            nonce=nonce,
        )
    return ended
