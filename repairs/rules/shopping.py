"""What the next jobs lack, and what to buy so that the bench still has its reorder level when they are done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from core.money import cents


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
    each_amount: Decimal | None
    on_hand: Decimal = Decimal(0)
    reorder_level: Decimal = Decimal(0)
    supplier: str = ""
    part_number: str = ""
    is_kept: bool = True  # False: known, but not on the bench's record


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """What the jobs need of one thing, and what to buy of it in whole units."""

    item: Held
    needed: Decimal
    jobs: tuple[str, ...]

    @property
    def buy(self) -> int:
        missing = self.needed + self.item.reorder_level - self.item.on_hand
        return max(int(missing.to_integral_value(rounding=ROUND_CEILING)), 0)

    @property
    def cost_amount(self) -> Decimal | None:
        """Return what it costs; None where no price is known."""
        each = self.item.each_amount
        return None if each is None else cents(each * self.buy)

    @property
    def is_short(self) -> bool:
        """Whether the jobs cannot be done with what is there; nobody waits for what the bench keeps no record of."""
        return self.item.is_kept and self.needed > max(self.item.on_hand, Decimal(0))


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """``lines`` are bought; ``enough`` are needed and in stock."""

    lines: tuple[ShoppingLine, ...]
    enough: tuple[ShoppingLine, ...]

    @property
    def total_amount(self) -> Decimal:
        return sum((line.cost_amount for line in self.lines if line.cost_amount is not None), Decimal(0))

    @property
    def by_supplier(self) -> list[tuple[str, list[ShoppingLine]]]:
        """Return what is bought by supplier in order of name; what has none stands last."""
        found: dict[str, list[ShoppingLine]] = defaultdict(list)
        for line in self.lines:
            found[line.item.supplier].append(line)
        return sorted(found.items(), key=lambda pair: (not pair[0], pair[0].casefold(), pair[0]))

    @property
    def unpriced(self) -> int:
        """How many lines have no price and are not in the total."""
        return sum(line.cost_amount is None for line in self.lines)


def reserved(needs: Iterable[Need]) -> dict[str, Decimal]:
    """Return how much of each code the plans will use."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for need in needs:
        sums[need.code] += need.quantity
    return dict(sums)


def lacking(jobs: Sequence[Iterable[Need]], *, on_hand: Mapping[str, Decimal]) -> list[dict[str, Decimal]]:
    """Return for each job, in the order of the work, how much of each code it needs that is not there for it.

    A job has what those before it leave. One that lacks anything takes nothing, so a later one may have it; what is
    left by all that can be done is promised to those that wait, in their order. What is not among ``on_hand`` is not
    kept on record, and nobody waits for it.
    """
    left = {code: max(quantity, Decimal(0)) for code, quantity in on_hand.items()}
    wanted = [{code: much for code, much in reserved(needs).items() if code in left} for needs in jobs]
    waits: list[int] = []
    for number, sums in enumerate(wanted):
        if all(much <= left[code] for code, much in sums.items()):
            for code, much in sums.items():
                left[code] -= much
        else:
            waits.append(number)
    found: list[dict[str, Decimal]] = [{} for _ in jobs]
    for number in waits:
        for code, much in wanted[number].items():
            if much > left[code]:
                found[number][code] = much - left[code]
            left[code] = max(left[code] - much, Decimal(0))
    return found


def shopping_list(*, needs: Sequence[Need], held: Iterable[Held]) -> ShoppingList:
    """Return what to buy. Every code among the needs must be among the held; KeyError names one that is not."""
    items = {one.key: one for one in held}
    sums = dict.fromkeys(items, Decimal(0)) | reserved(needs)
    jobs: dict[str, dict[str, None]] = defaultdict(dict)  # in the order of the jobs, each once
    for need in needs:
        jobs[need.code][need.job] = None
    lines = [ShoppingLine(items[code], needed, tuple(jobs[code])) for code, needed in sums.items()]
    lines.sort(key=lambda line: (not line.is_short, line.item.name, line.item.key))
    return ShoppingList(
        lines=tuple(line for line in lines if line.buy),
        enough=tuple(line for line in lines if not line.buy and line.needed),
    )
