"""Charging a family for damage, at most what the repair costs and the instrument was worth."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.models import User
from core.money import dollars
from desk.selectors.charging import charge_of, returned_loan
from loans.exceptions import LedgerRefusedError
from loans.models import LedgerEntry, Loan
from loans.rules.ledger import Sort
from loans.services.ledger import enter_in_ledger


@service(once="nonce")
def charge_for_damage(
    *,
    loan: Loan,
    chosen: Collection[str],
    amount: Decimal,
    actor: User,
    at: datetime,
    nonce: UUID,
    prices: Mapping[str, Decimal] | None = None,
) -> LedgerEntry:
    """Charge the family for what is chosen of a loan that came back; the entry keeps how the cap came about.

    ``chosen`` and ``prices`` are as ``desk.selectors.charging.charge_of`` takes them. Raises LedgerRefusedError and writes nothing
    where the amount is above the cap, or something chosen is wear, was charged already, has no price or is not there.
    """
    # Locked: two charges at once would both see what was charged before.
    fresh = lock_row(loan, "instrument__school", "taken_back", "student", "hand_out")
    if fresh.returned_at is None or fresh.taken_back is None:
        raise LedgerRefusedError(_("It has not come back yet. Take it back and inspect it first."))
    returned = returned_loan(fresh)
    if not chosen:
        raise LedgerRefusedError(_("Choose what is charged for."))
    if not returned.offered.keys() >= set(chosen):
        raise LedgerRefusedError(_("Some of that is wear, or was charged already. Look at the comparison again."))
    charge = charge_of(returned, chosen=chosen, prices=prices)
    if charge.unpriced:
        raise LedgerRefusedError(_("Some of that has no price yet. Enter what its repair costs first."))
    if amount > charge.cap.amount:
        words = _("At most %(most)s can be charged: what the repair costs, and no more than the instrument was worth.")
        raise LedgerRefusedError(words % {"most": dollars(charge.cap.amount)})
    return enter_in_ledger(
        student=fresh.student,
        sort=Sort.DAMAGE,
        amount=amount,
        on=timezone.localdate(at),
        loan=fresh,
        reckoning=charge.as_json(returned),
        actor=actor,
        at=at,
        nonce=nonce,
    )
