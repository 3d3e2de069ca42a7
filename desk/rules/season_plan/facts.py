"""What a season plan is made from: seats to fill, instruments and what could be done with each, purchases, budgets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

NOTHING = Decimal(0)
ALL_BENCHES = ""


class Goal(StrEnum):
    """What comes first where not every seat can be filled."""

    PRIORITY = "priority"  # as much as can be of priority 1, of what is left of priority 2, and so on
    MOST = "most"  # as much as can be over all priorities; of such plans the one best by priority


class Action(StrEnum):
    """What is done with an instrument, or bought."""

    USE = "use"  # goes out as it is
    REPAIR = "repair"  # at a bench of the district
    SEND_OUT = "send_out"  # to an outside shop
    BUY = "buy"
    SPARE = "spare"  # could go out as it is, and no seat needs it
    LEAVE = "leave"


class BudgetKind(StrEnum):
    HOURS = "bench_hours"
    REPAIR = "repair_money"
    SHOP = "shop_money"
    PURCHASE = "purchase_money"


@dataclass(frozen=True, order=True, slots=True)
class Budget:
    """One budget: dollars for one purpose, or hours at one bench (ALL_BENCHES: at all of them together)."""

    kind: BudgetKind
    bench: str = ALL_BENCHES


@dataclass(frozen=True, slots=True)
class Seats:
    """Seats with the same needs; an empty field matches anything."""

    key: str
    kind: str
    count: int = 1
    school: str = ""
    size: str = ""
    level: str = ""
    priority: int = 1  # 1 comes first
    weight: Decimal = Decimal(1)  # of one seat among those of its priority; above 0
    needed_by: date | None = None


@dataclass(frozen=True, slots=True)
class Option:
    """One way to make an instrument ready. Hours and dollars are exact to two places."""

    action: Action  # REPAIR or SEND_OUT
    bench: str = ALL_BENCHES
    hours: Decimal = NOTHING  # at that bench
    parts_amount: Decimal = NOTHING  # repair money
    shop_amount: Decimal = NOTHING  # shop money
    ready_on: date | None = None  # None: in time for every seat
    levels: frozenset[str] | None = None  # whose seats it is enough for afterwards; None: all


@dataclass(frozen=True, slots=True)
class Candidate:
    """One instrument."""

    key: str
    kind: str
    school: str = ""  # "": may go to any
    size: str = ""
    is_ready: bool = False  # may go out as it is
    levels: frozenset[str] | None = None  # whose seats it is enough for as it is; None: all
    options: tuple[Option, ...] = ()


@dataclass(frozen=True, slots=True)
class Purchase:
    """What could be bought, at a price each."""

    key: str
    kind: str
    price_amount: Decimal
    limit: int | None = None  # None: as many as there are seats for
    school: str = ""
    size: str = ""
    levels: frozenset[str] | None = None
    ready_on: date | None = None


@dataclass(frozen=True, slots=True)
class Budgets:
    """The limits; None, or a bench that is not named, has none. Hours are for all benches together, or by bench."""

    bench_hours: Decimal | Mapping[str, Decimal] | None = None
    repair_amount: Decimal | None = None
    shop_amount: Decimal | None = None
    purchase_amount: Decimal | None = None

    def limits(self) -> Iterator[tuple[Budget, Decimal]]:
        """Yield each budget that has a limit."""
        if isinstance(self.bench_hours, Mapping):
            for bench, hours in sorted(self.bench_hours.items()):
                yield Budget(BudgetKind.HOURS, bench), hours
        elif self.bench_hours is not None:
            yield Budget(BudgetKind.HOURS), self.bench_hours
        for kind, amount in (
            (BudgetKind.REPAIR, self.repair_amount),
            (BudgetKind.SHOP, self.shop_amount),
            (BudgetKind.PURCHASE, self.purchase_amount),
        ):
            if amount is not None:
                yield Budget(kind), amount

    def with_more(self, budget: Budget, more: Decimal) -> Budgets:
        """Return the same with so much more in one budget that has a limit."""
        limits = dict(self.limits())
        limits[budget] += more
        by_bench = {one.bench: hours for one, hours in limits.items() if one.kind is BudgetKind.HOURS}
        hours = by_bench if isinstance(self.bench_hours, Mapping) else by_bench.get(ALL_BENCHES)
        return Budgets(
            bench_hours=hours,
            repair_amount=limits.get(Budget(BudgetKind.REPAIR)),
            shop_amount=limits.get(Budget(BudgetKind.SHOP)),
            purchase_amount=limits.get(Budget(BudgetKind.PURCHASE)),
        )


@dataclass(frozen=True, slots=True)
class Season:
    """The whole question. Keys are unique among seats, and among candidates and purchases together."""

    seats: tuple[Seats, ...]
    candidates: tuple[Candidate, ...] = ()
    purchases: tuple[Purchase, ...] = ()
    budgets: Budgets = field(default_factory=Budgets)
    goal: Goal = Goal.PRIORITY


def suits(
    seats: Seats, *, kind: str, school: str, size: str, levels: frozenset[str] | None, ready_on: date | None
) -> bool:
    """Whether an instrument like this may fill one of the seats."""
    return (
        kind == seats.kind
        and (not seats.school or not school or school == seats.school)
        and (not seats.size or size == seats.size)
        and (not seats.level or levels is None or seats.level in levels)
        and (seats.needed_by is None or ready_on is None or ready_on <= seats.needed_by)
    )
