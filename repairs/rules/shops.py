"""When an order needs an approval, what step it is at, and how shops compare."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import median


def needs_approval(*, amount: Decimal | None, limit: Decimal, approved: Decimal | None) -> bool:
    """Return whether somebody has to approve: above the limit, and above what was approved already."""
    return amount is not None and amount > limit and (approved is None or amount > approved)


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

    @property
    def over_percent(self) -> Decimal | None:
        return None if self.over_estimate is None else (self.over_estimate * 100).quantize(Decimal(1))


def shop_records(orders: Iterable[OrderFact]) -> tuple[ShopRecord, ...]:
    """Return a record per shop and kind of work, by work, then the cheaper first."""
    groups: dict[tuple[str, str], list[OrderFact]] = defaultdict(list)
    for order in orders:
        groups[order.shop, order.work].append(order)
    records = [_record(shop, work, group) for (shop, work), group in groups.items()]
    return tuple(
        sorted(records, key=lambda one: (one.work, one.median_amount or Decimal(0), one.median_days, one.shop))
    )


def _record(shop: str, work: str, orders: list[OrderFact]) -> ShopRecord:
    amounts = [one.amount for one in orders if one.amount is not None]
    both = [(one.amount, one.estimate) for one in orders if one.amount is not None and one.estimate]
    promised = [(one.days, one.days_promised) for one in orders if one.days_promised is not None]
    estimated = sum((estimate for _, estimate in both), Decimal(0))
    return ShopRecord(
        shop=shop,
        work=work,
        orders=len(orders),
        median_days=median(one.days for one in orders),
        longest_days=max(one.days for one in orders),
        median_amount=median(amounts).quantize(Decimal("0.01")) if amounts else None,
        over_estimate=(sum((amount for amount, _ in both), Decimal(0)) / estimated - 1).quantize(Decimal("0.001"))
        if estimated
        else None,
        on_time=sum(days <= limit for days, limit in promised),
        promised=len(promised),
        passed=sum(one.has_passed is True for one in orders),
        played=sum(one.has_passed is not None for one in orders),
    )
