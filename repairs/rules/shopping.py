"""What to buy for the next jobs, so that the bench still has its reorder level when they are done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Need:
    """What one planned step of one job will use up."""

    code: str
    quantity: Decimal
    job: str  # as people name it


@dataclass(frozen=True, slots=True)
class Held:
    """What is in stock on the bench, or known of a thing that is not. Without a code: a part described in free text."""

    key: str  # the code, or something of its own for a part without one
    name: str
    unit: str
    on_hand: Decimal
    reorder_level: Decimal
    each_amount: Decimal | None


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """``buy`` is in whole units; money is None where no price is known."""

    key: str
    name: str
    unit: str
    needed: Decimal
    on_hand: Decimal
    reorder_level: Decimal
    buy: int
    each_amount: Decimal | None
    cost_amount: Decimal | None
    jobs: tuple[str, ...]

    @property
    def is_short(self) -> bool:
        """Whether the jobs cannot be done with what is there."""
        return self.needed > self.on_hand


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """``lines`` are bought; ``enough`` are needed and in stock."""

    lines: tuple[ShoppingLine, ...]
    enough: tuple[ShoppingLine, ...]
    total_amount: Decimal
    unpriced: int  # lines to buy without a price, not in the total


def reserved(needs: Iterable[Need]) -> Mapping[str, Decimal]:
    """Return how much of each code the plans will use."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for need in needs:
        sums[need.code] += need.quantity
    return dict(sums)


def shopping_list(*, needs: Iterable[Need], held: Iterable[Held]) -> ShoppingList:
    """Return what to buy. Every code among the needs must be among the held; KeyError names one that is not."""
    wanted = tuple(needs)
    items = {one.key: one for one in held}
    sums = reserved(wanted)
    jobs: dict[str, dict[str, None]] = defaultdict(dict)
    for need in wanted:
        jobs[need.code][need.job] = None
        items[need.code]
    lines = sorted(
        (_line(item, needed=sums.get(key, Decimal(0)), jobs=tuple(jobs.get(key, ()))) for key, item in items.items()),
        key=lambda line: (not line.is_short, line.name, line.key),
    )
    bought = tuple(line for line in lines if line.buy)
    return ShoppingList(
        lines=bought,
        enough=tuple(line for line in lines if not line.buy and line.needed),
        total_amount=sum((line.cost_amount for line in bought if line.cost_amount is not None), Decimal(0)),
        unpriced=sum(line.cost_amount is None for line in bought),
    )


def _line(item: Held, *, needed: Decimal, jobs: tuple[str, ...]) -> ShoppingLine:
    missing = max(needed + item.reorder_level - item.on_hand, Decimal(0))
    buy = int(missing.to_integral_value(rounding=ROUND_CEILING))
    each = item.each_amount
    return ShoppingLine(
        key=item.key,
        name=item.name,
        unit=item.unit,
        needed=needed,
        on_hand=item.on_hand,
        reorder_level=item.reorder_level,
        buy=buy,
        each_amount=each,
        cost_amount=None if each is None else (each * buy).quantize(CENT),
        jobs=jobs,
    )
