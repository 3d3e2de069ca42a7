"""Wear or damage, and the most that a family may be charged.

What is new or worse at return is wear where it usually comes from playing and the time out explains it, damage where it usually
comes from a fall or a blow; between them somebody decides. Common practice of school programs, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, Decimal
from enum import StrEnum

from core.money import CENT
from inventory.catalog.schema import Cause
from loans.rules.compare import Change, Compared


class Ruling(StrEnum):
    """What something new or worse counts as."""

    DAMAGE = "damage"
    OPEN = "open"  # somebody who looks at it decides
    WEAR = "wear"  # never charged


def months_out(*, lent_on: date, back_on: date) -> int:
    """Return the whole months between the two days."""
    months = (back_on.year - lent_on.year) * 12 + back_on.month - lent_on.month
    return max(0, months - (back_on.day < lent_on.day))


def steps_worse(row: Compared) -> int:
    """Return by how many severities it is worse: none to light is one, light to severe two."""
    if row.after is None:
        return 0
    before = -1 if row.before is None else row.before.rank
    return max(0, row.after.rank - before)


def ruling_of(row: Compared, *, months: int, step_months: int) -> Ruling | None:
    """Return what a change counts as, None where nothing is new or worse.

    In ``step_months`` of playing a fault gets one severity worse by wear. One that comes from wear alone is allowed the first
    step at once; one that may be either has to have had the time.
    """
    if row.change not in {Change.NEW, Change.WORSE}:
        return None
    if row.cause is Cause.DAMAGE:
        return Ruling.DAMAGE
    by_wear = months // step_months
    if row.cause is Cause.WEAR:
        by_wear = max(1, by_wear)
    is_explained = row.cause is not None and steps_worse(row) <= by_wear
    return Ruling.WEAR if is_explained else Ruling.OPEN


def share_of(amount: Decimal, *, weights: Mapping[int, Decimal], chosen: Collection[int]) -> Decimal:
    """Return the share that the chosen ones have in a bill for all in ``weights``, cut to the cent, never above the bill.

    The bill is parted by what each would cost by itself, evenly where nobody knows.
    """
    whole = sum(weights.values())
    parts = weights if whole > 0 else dict.fromkeys(weights, Decimal(1))
    mine = sum((part for key, part in parts.items() if key in chosen), start=Decimal(0))
    every = sum(parts.values())
    return (amount * mine / every).quantize(CENT, rounding=ROUND_DOWN) if every else Decimal(0)


@dataclass(frozen=True, slots=True)
class Cap:
    """What limits a charge, in dollars."""

    cost: Decimal  # of the repair, as far as it is for what is charged
    value: Decimal  # of the instrument on the day it came back, had this not happened
    charged: Decimal  # for the same loan before, neither reversed nor taken off

    @property
    def amount(self) -> Decimal:
        """The most that may be charged: what the repair costs, and no more than is left of the value."""
        return max(Decimal(0), min(self.cost, self.value - self.charged)).quantize(CENT, rounding=ROUND_DOWN)

    @property
    def is_by_value(self) -> bool:
        """Whether the value is what limits it."""
        return self.value - self.charged < self.cost
