"""Approving what an order costs, refusing it, and ordering the work after an estimate."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from core.acts import service
from core.models import User
from core.money import dollars
from inventory.exceptions import RefusedError
from repairs.exceptions import ApprovalNeededError
from repairs.models import RepairBudget, ShopOrder
from repairs.rules.shops import OrderMoney, Wait, allowed_amount, wait_words, waits_for
from repairs.selectors.shops import limits_today
from repairs.services.approving import check_may_approve
from repairs.services.orders.rows import change_order, fresh_order
from repairs.services.refusals import check_allowed


@service
def approve_order(*, order: ShopOrder, amount: Decimal, actor: User, at: datetime, **paid_by: Any) -> ShopOrder:
    """Allow an order to cost so much; a bill is accepted. It is kept with name and amount.

    ``paid_by`` are budget and purchase_order, where they are stated again. Refuses the asker where the district has
    another approve, an amount above the limit before there is an estimate, and what nobody needs to approve now.
    """
    check_may_approve(actor=actor, asker_id=order.asked_by_id, school_id=order.instrument.school_id)
    fresh = fresh_order(order)
    check_not_refused(fresh)
    if amount <= 0:
        raise RefusedError(gettext("Enter the amount you approve."))
    money, limits = fresh.money, limits_today()
    wait = waits_for(money, limits)
    if wait is None and amount <= allowed_amount(money, limits):
        raise RefusedError(_nothing_to_approve(fresh))
    if money.wanted is not None and amount < money.wanted:
        words = gettext("It will cost %(amount)s. Approve that much, or refuse it.")
        raise RefusedError(words % {"amount": dollars(money.wanted)})
    is_fee = wait is Wait.TRIP and amount == money.wanted
    has_figure = money.estimate is not None or money.bill is not None or is_fee
    if wait is Wait.ESTIMATE_FIRST or (amount > limits.work and not has_figure):
        words = gettext("Above %(limit)s, the shop's own estimate comes first. Enter it, then it can be approved.")
        raise RefusedError(words % {"limit": dollars(limits.work)})
    check_paid_by(order=fresh, **paid_by)
    approval = {"approved_amount": amount, "approved_at": at, "approved_by": actor}
    change_order(order=fresh, act="cost_approved", after={"amount": amount}, **approval, **paid_by)
    return fresh


@service
def refuse_order(*, order: ShopOrder, because: str, actor: User, at: datetime) -> ShopOrder:
    """Say no to what waits for an approval. Nothing more is ordered before a new estimate; a bill is disputed."""
    check_may_approve(actor=actor, asker_id=order.asked_by_id, school_id=order.instrument.school_id)
    fresh = fresh_order(order)
    check_not_refused(fresh)
    if not because.strip():
        raise RefusedError(gettext("Say why not."))
    money = fresh.money
    if waits_for(money, limits_today()) is None:
        raise RefusedError(_nothing_to_approve(fresh))
    refusal = {"refused_at": at, "refused_by": actor, "refused_because": because.strip()[:200]}
    change_order(order=fresh, act="cost_refused", after={"amount": money.wanted}, **refusal)
    return fresh


@service
def order_work(*, order: ShopOrder, actor: User, at: datetime) -> ShopOrder:
    """Go ahead: have the shop do what it was only to make an estimate of."""
    fresh = fresh_order(order)
    if fresh.returned_at is not None:
        raise RefusedError(gettext("It is already back."))
    if not fresh.is_estimate_only:
        raise RefusedError(gettext("The work has already been ordered."))
    if fresh.estimate_amount is None:
        raise RefusedError(gettext("Enter the shop's estimate first."))
    check_allowed(fresh.instrument, approved_at=fresh.work_approved_at)
    as_it_stands = check_money(order=fresh, money=replace(fresh.money, is_estimate_only=False, is_sent=False))
    change_order(order=fresh, act="work_ordered", after=as_it_stands, is_estimate_only=False)
    return fresh


def check_money(*, order: ShopOrder, money: OrderMoney | None = None) -> dict[str, Any]:
    """Refuse what was refused or waits for an approval; return what the event keeps of how it stood."""
    check_not_refused(order)
    money, limits = money or order.money, limits_today()
    if waits_for(money, limits):
        words = gettext("%(why)s A director or an administrator must approve it first.")
        raise ApprovalNeededError(words % {"why": wait_words(money, limits)})
    limit = limits.work if money.is_work_to_decide else limits.trip  # it changes with the years
    return {"amount": money.wanted, "limit": limit, "approved": order.approved_amount}


def check_not_refused(order: ShopOrder) -> None:
    """Refuse what somebody said no to, with their reason."""
    if order.refused_at is not None:
        values = {"who": order.refused_by, "when": _moment(order.refused_at), "why": order.refused_because}
        if order.invoice_amount is not None:
            words = gettext("%(who)s refused the bill on %(when)s: %(why)s. Enter a corrected bill.")
        else:
            words = gettext("%(who)s refused it on %(when)s: %(why)s. Enter a new estimate first.")
        raise RefusedError(words % values)


def check_paid_by(*, order: ShopOrder, budget: RepairBudget | None = None, purchase_order: str = "") -> None:
    """Refuse another school's budget."""
    if budget is not None and budget.school_id != order.instrument.school_id:
        raise RefusedError(gettext("That budget is another school's."))


def _nothing_to_approve(order: ShopOrder) -> str:
    if order.approved_at is None:
        return gettext("It no longer needs an approval.")
    words = gettext("%(who)s approved up to %(amount)s on %(when)s.")
    amount = dollars(order.approved_amount)
    return words % {"who": order.approved_by, "amount": amount, "when": _moment(order.approved_at)}


def _moment(at: datetime) -> str:
    return date_format(timezone.localtime(at), gettext("M j, P"))
