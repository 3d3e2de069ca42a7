"""What an order costs: the estimate, the approval and the bill."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from core.money import dollars
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from repairs.exceptions import ApprovalNeededError
from repairs.models import ShopOrder
from repairs.rules.shops import Wait, wait_words, waits_for
from repairs.selectors.shops import limits_today
from repairs.services.orders.rows import change_order, fresh_order, promise_columns


def check_money(order: ShopOrder) -> None:
    """Refuse while it waits for an approval."""
    money, limits = order.money, limits_today()
    if waits_for(money, limits):
        words = gettext("%(why)s A director or an administrator must approve it first.")
        raise ApprovalNeededError(words % {"why": wait_words(money, limits)})


@service
def note_estimate(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, promised_on: date | None = None
) -> ShopOrder:
    """Keep what the shop says it will cost. Above the limit, and above what was approved, it asks for an approval."""
    fresh = fresh_order(order)
    if fresh.returned_at is not None:
        raise RefusedError(gettext("It is already back. Enter the bill instead."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    promise = promise_columns(order=fresh, on=promised_on)
    after = {"estimate": amount, "before": fresh.estimate_amount, "on": on, "promised_on": promised_on}
    change_order(order=fresh, act="estimate_given", after=after, estimate_amount=amount, estimate_on=on, **promise)
    return fresh


@service
def approve_order(*, order: ShopOrder, amount: Decimal, actor: User, at: datetime) -> ShopOrder:
    """Allow an order to cost so much. Only who may approve costs; it is kept with name and amount."""
    if not has_perm_at_school(actor, "repairs.approve_cost", order.instrument.school_id):
        raise ApprovalNeededError(gettext("Only a director or an administrator can approve costs."))
    fresh = fresh_order(order)
    if amount <= 0:
        raise RefusedError(gettext("Enter the amount you approve."))
    limits = limits_today()
    if waits_for(fresh.money, limits) is Wait.ESTIMATE_FIRST:
        raise RefusedError(wait_words(fresh.money, limits))
    if fresh.known_amount is not None and amount < fresh.known_amount:
        words = gettext("It will cost %(amount)s. Approve that much, or cancel the order.")
        raise RefusedError(words % {"amount": dollars(fresh.known_amount)})
    approval = {"approved_amount": amount, "approved_at": at, "approved_by": actor}
    change_order(order=fresh, act="cost_approved", after={"amount": amount}, **approval)
    return fresh


@service
def note_invoice(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, number: str = ""
) -> ShopOrder:
    """Keep the bill. One above what was approved is kept all the same and shows as that."""
    fresh = fresh_order(order)
    if fresh.returned_at is None:
        raise RefusedError(gettext("Enter the bill once the instrument is back."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    bill = {"invoice_amount": amount, "invoice_number": number.strip(), "invoice_on": on}
    after = {"amount": amount, "before": fresh.invoice_amount, "on": on}
    change_order(order=fresh, act="invoice_noted", after=after, **bill)
    return fresh
