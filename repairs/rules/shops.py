"""Whether and why an order waits for an approval, how much it may cost, and how shops compare."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from statistics import median

from core.money import dollars
from core.translation import gettext as _
from core.translation import gettext_noop

NOTHING = Decimal(0)


class Wait(StrEnum):
    """Why an order waits for somebody who approves it."""

    NO_AMOUNT = "no_amount"  # nobody knows what it will cost
    ESTIMATE_FIRST = "estimate_first"  # expected above the limit: no approval before the shop's own estimate
    ESTIMATE = "estimate"  # the estimate is above the limit, and above what was approved
    TRIP = "trip"  # trip and bench fee of an estimate are above their cap
    BUDGET = "budget"  # its budget has less left
    BILL = "bill"  # the bill is above what the order may cost


@dataclass(frozen=True, slots=True)
class Limits:
    """Amounts that need no approval: of work, and of a trip for an estimate only."""

    work: Decimal
    trip: Decimal


@dataclass(frozen=True, slots=True)
class OrderMoney:
    """What is known of an order's money. Amounts in dollars, None: not known."""

    expected: Decimal | None = None  # at most
    estimate: Decimal | None = None
    trip: Decimal | None = None  # trip and bench fee, where it leaves for an estimate only
    approved: Decimal | None = None
    bill: Decimal | None = None
    budget_left: Decimal | None = None  # by all but this order; None: no budget pays for it
    is_estimate_only: bool = False  # no work was ordered
    is_sent: bool = False
    is_back: bool = False
    is_called_off: bool = False
    is_refused: bool = False
    is_approved_since_back: bool = False

    @property
    def known(self) -> Decimal | None:
        """The best figure for the work: the shop's estimate, else the most that is expected."""
        return self.expected if self.estimate is None else self.estimate

    @property
    def is_work_to_decide(self) -> bool:
        """Whether the work itself is in question, not only a trip for an estimate."""
        return not self.is_estimate_only or (self.is_sent and self.estimate is not None)

    @property
    def wanted(self) -> Decimal | None:
        """What an approval would have to cover."""
        if self.bill is not None:
            return self.bill
        return self.known if self.is_work_to_decide else self.trip or NOTHING


def waits_for(money: OrderMoney, limits: Limits) -> Wait | None:
    """Return why the order waits for an approval, the first reason of several; None if it does not.

    What was refused waits for whoever asked, not for an approval. A budget is asked before work or trip is ordered.
    """
    if money.is_called_off or money.is_refused:
        return None
    if money.is_back:
        return Wait.BILL if money.bill is not None and money.bill > allowed_amount(money, limits) else None
    approved = money.approved or NOTHING
    if money.is_work_to_decide:
        wanted = money.known
        if wanted is None:
            return Wait.NO_AMOUNT if money.approved is None else None
        if wanted > limits.work and money.estimate is None:
            return Wait.ESTIMATE_FIRST
        if wanted > max(limits.work, approved):
            return Wait.ESTIMATE
    elif money.is_sent:
        return None  # the shop's estimate is to come
    else:
        wanted = money.trip or NOTHING
        if wanted > max(limits.trip, approved):
            return Wait.TRIP
    is_ordered = money.is_sent and not money.is_estimate_only
    if not is_ordered and money.budget_left is not None and wanted > max(money.budget_left, approved):
        return Wait.BUDGET
    return None


def allowed_amount(money: OrderMoney, limits: Limits) -> Decimal:
    """Return what its bill may come to: what was approved, and without an approval what is known and within the limit.

    An approval of the work does not allow a bill for no work: then it is the trip's fee, or what was approved since.
    """
    approved = money.approved or NOTHING
    if not money.is_estimate_only:
        return max(approved, min(money.known or NOTHING, limits.work))
    trip = min(money.trip or NOTHING, max(limits.trip, approved))
    return max(trip, approved) if money.is_approved_since_back else trip


def committed_amount(money: OrderMoney) -> Decimal:
    """Return what the order takes from its budget: its bill, and before that the most it may come to."""
    if money.bill is not None:
        return money.bill
    if money.is_called_off or (money.is_refused and not money.is_sent):
        return NOTHING
    approved = money.approved or NOTHING
    if money.is_estimate_only:
        return (money.trip or NOTHING) if money.is_back else max(money.trip or NOTHING, approved)
    return max(money.known or NOTHING, approved)


WAIT_WORDS = {
    Wait.NO_AMOUNT: gettext_noop("Nobody has said what it may cost."),
    Wait.ESTIMATE_FIRST: gettext_noop(
        "Up to %(known)s is expected. Above %(limit)s, the shop's own estimate comes first."
    ),
    Wait.ESTIMATE: gettext_noop("The estimate of %(known)s is above the limit of %(limit)s."),
    Wait.TRIP: gettext_noop("Trip and bench fee of %(trip)s are above the %(cap)s for an estimate."),
    Wait.BUDGET: gettext_noop("It may cost %(wanted)s, and its budget has %(left)s left."),
}
ABOVE_APPROVED = gettext_noop("The estimate of %(known)s is above the approved %(approved)s.")
BILL_ABOVE = {
    "trip": gettext_noop("The bill of %(bill)s is above the %(allowed)s for the trip. No work was ordered."),
    "approved": gettext_noop("The bill of %(bill)s is above the approved %(approved)s."),
    "nothing": gettext_noop("The bill is %(bill)s, and nobody said what it may cost."),
    "limit": gettext_noop("The bill of %(bill)s is above the limit of %(limit)s, and nobody approved it."),
    "expected": gettext_noop("The bill of %(bill)s is above the expected %(known)s."),
    "estimate": gettext_noop("The bill of %(bill)s is above the estimate of %(known)s."),
}


def wait_words(money: OrderMoney, limits: Limits) -> str:
    """Say what an order waits for, with the figures; "" if it does not."""
    wait = waits_for(money, limits)
    if wait is None:
        return ""
    if wait is Wait.BILL:
        words = BILL_ABOVE[_bill_is_above(money, limits)]
    else:
        words = ABOVE_APPROVED if wait is Wait.ESTIMATE and money.approved else WAIT_WORDS[wait]
    amounts = {
        "known": money.known, "trip": money.trip, "bill": money.bill, "limit": limits.work, "cap": limits.trip,
        "approved": money.approved, "allowed": allowed_amount(money, limits), "left": money.budget_left,
        "wanted": money.wanted,
    }  # fmt: skip
    return _(words, **{name: dollars(amount) for name, amount in amounts.items()})


def _bill_is_above(money: OrderMoney, limits: Limits) -> str:
    """Return the key in BILL_ABOVE of what its bill is measured by."""
    if money.is_estimate_only:
        return "trip"
    if money.approved and money.approved == allowed_amount(money, limits):
        return "approved"
    if money.known is None:
        return "nothing"
    if money.known > limits.work:
        return "limit"
    return "expected" if money.estimate is None else "estimate"


@dataclass(frozen=True, slots=True)
class OrderFact:
    """One order that came back."""

    shop: str
    work: str
    days: float
    amount: Decimal | None  # of the invoice
    estimate: Decimal | None
    days_promised: float | None
    has_passed: bool | None  # its play test; None: not played yet
    key: int  # its own
    warranty_of: int | None = None  # the key of the order that this one makes good
    days_again: float = 0.0  # of its returns under warranty
    has_come_back: bool = False  # it went to the shop again under warranty


@dataclass(frozen=True, slots=True)
class ShopRecord:
    """How one shop did at one kind of work. Medians, because one bad month should not decide."""

    shop: str
    work: str
    orders: int
    median_days: float
    longest_days: float
    median_amount: Decimal | None
    over_estimate: Decimal | None  # invoices over estimates, as a share (0.1: ten per cent dearer than said)
    on_time: int
    promised: int
    passed: int
    played: int
    came_back: int  # went there again under warranty

    @property
    def over_percent(self) -> Decimal | None:
        return None if self.over_estimate is None else (self.over_estimate * 100).quantize(Decimal(1))


def shop_records(orders: Iterable[OrderFact]) -> tuple[ShopRecord, ...]:
    """Return a record per shop and kind of work, by work, then the cheaper first.

    A return under warranty is no order of its own: its days and its bill add to those of the order that it makes good.
    """
    groups: dict[tuple[str, str], list[OrderFact]] = defaultdict(list)
    for order in _with_returns(orders):
        groups[order.shop, order.work].append(order)
    records = [_record(shop, work, group) for (shop, work), group in groups.items()]
    return tuple(
        sorted(records, key=lambda one: (one.work, one.median_amount or Decimal(0), one.median_days, one.shop))
    )


def _with_returns(orders: Iterable[OrderFact]) -> list[OrderFact]:
    """Return the orders with what their returns took and cost; a return of one that is not among them is dropped."""
    facts = {one.key: one for one in orders}
    first = {key: one for key, one in facts.items() if one.warranty_of is None}
    for one in facts.values():
        made_good = one
        while made_good.warranty_of in facts:
            made_good = facts[made_good.warranty_of]
        if one.warranty_of is None or made_good.key not in first:
            continue
        so_far = first[made_good.key]
        is_billed = so_far.amount is not None and one.amount is not None
        first[made_good.key] = replace(
            so_far,
            days_again=so_far.days_again + one.days,
            amount=(so_far.amount or NOTHING) + (one.amount or NOTHING) if is_billed else so_far.amount,
            has_come_back=True,
        )
    return list(first.values())


def _record(shop: str, work: str, orders: list[OrderFact]) -> ShopRecord:
    amounts = [one.amount for one in orders if one.amount is not None]
    both = [(one.amount, one.estimate) for one in orders if one.amount is not None and one.estimate]
    promised = [(one.days, one.days_promised) for one in orders if one.days_promised is not None]
    estimated = sum((estimate for _, estimate in both), Decimal(0))
    return ShopRecord(
        shop=shop,
        work=work,
        orders=len(orders),
        median_days=median(one.days + one.days_again for one in orders),
        longest_days=max(one.days + one.days_again for one in orders),
        median_amount=median(amounts).quantize(Decimal("0.01")) if amounts else None,
        over_estimate=(sum((amount for amount, _ in both), Decimal(0)) / estimated - 1).quantize(Decimal("0.001"))
        if estimated
        else None,
        on_time=sum(days <= limit for days, limit in promised),
        promised=len(promised),
        passed=sum(one.has_passed is True for one in orders),
        played=sum(one.has_passed is not None for one in orders),
        came_back=sum(one.has_come_back for one in orders),
    )
