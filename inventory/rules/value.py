"""What an instrument is worth: straight line, replacement cost by year, and the value in the condition it is in.

Straight line is (cost - salvage) / life a year and never falls under salvage (North Carolina Office of the State
Controller, Statewide Accounting Policy 102.5, which takes the salvage value as zero). Groups follow the composite
method: one rate on the cost of all of them (Kieso, Weygandt and Warfield, Intermediate Accounting, chapter 11).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from core.money import dollars

CENT = Decimal("0.01")


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def book_value(*, cost: Decimal, salvage: Decimal, life_years: int, years: Decimal | int) -> Decimal:
    """Return what is left on the books after so many years in service; a part of a year counts as its share."""
    if life_years < 1:
        raise ValueError(f"{life_years} years is no life")
    if not 0 <= salvage <= cost:
        raise ValueError("salvage lies between nothing and the cost")
    used = min(max(Decimal(years), Decimal(0)), Decimal(life_years))
    return _cents(cost - (cost - salvage) * used / life_years)


def yearly_charges(*, cost: Decimal, salvage: Decimal, life_years: int) -> tuple[Decimal, ...]:
    """Return the charge of each year of the life; they add up to cost less salvage to the cent."""
    values = [
        book_value(cost=cost, salvage=salvage, life_years=life_years, years=year) for year in range(life_years + 1)
    ]
    return tuple(before - after for before, after in pairwise(values))


@dataclass(frozen=True, slots=True)
class Group:
    """Alike or unlike assets written off together."""

    cost: Decimal
    salvage: Decimal
    life_years: int


def composite_rate(groups: Sequence[Group]) -> Decimal:
    """Return the sum of the straight-line charges over the sum of the costs."""
    return _yearly(groups) / sum((group.cost for group in groups), Decimal(0))


def composite_life(groups: Sequence[Group]) -> Decimal:
    """Return the years that write all groups down to their salvage at the composite rate."""
    return sum((group.cost - group.salvage for group in groups), Decimal(0)) / _yearly(groups)


def _yearly(groups: Sequence[Group]) -> Decimal:
    return sum(((group.cost - group.salvage) / group.life_years for group in groups), Decimal(0))


def replacement_cost(*, amount: Decimal, growth: Decimal, years: int) -> Decimal:
    """Return what a new one costs in so many years (before now: negative) if prices grow by ``growth`` a year."""
    return _cents(amount * (1 + growth) ** years)


@dataclass(frozen=True, slots=True)
class ValueFacts:
    """What a value hangs on. Shares are of the price of a new one of the same level."""

    replacement_amount: Decimal
    age_years: int | None  # None: nobody knows; then half a life is assumed
    life_years: int
    residual_share: Decimal  # what is left at the end of a life
    playing_share: Decimal = Decimal(0)  # one that plays never counts for less: it can still go out
    repair_amount: Decimal = Decimal(0)  # cost to playing condition


@dataclass(frozen=True, slots=True)
class Value:
    """In playing condition, and as it is, with how each came about."""

    playing_amount: Decimal
    as_is_amount: Decimal
    age_years: int
    years_left: int  # of the life; 0 when it is over
    words: str  # how the value in playing condition came about
    as_is_words: str


def value_of(facts: ValueFacts) -> Value:
    """Return the value in playing condition (straight line on today's price) and as it is (less the repair)."""
    age = facts.age_years if facts.age_years is not None else facts.life_years // 2
    new = facts.replacement_amount
    line = book_value(cost=new, salvage=_cents(new * facts.residual_share), life_years=facts.life_years, years=age)
    floor = _cents(new * facts.playing_share)
    told_age = f"{age} years old" if facts.age_years is not None else f"age not known, taken as {age} years"
    words = (
        f"a new one costs {dollars(new)}; {told_age} of a life of {facts.life_years}: {dollars(line)} by straight line"
    )
    if line < floor:
        words += f"; one that plays never counts for less than {facts.playing_share * 100:.0f} %"
    playing = max(line, floor)
    as_is = max(playing - facts.repair_amount, Decimal(0)).quantize(CENT)
    return Value(
        playing_amount=playing,
        as_is_amount=as_is,
        age_years=age,
        years_left=max(facts.life_years - age, 0),
        words=words,
        as_is_words=f"{dollars(playing)} less {dollars(facts.repair_amount)} to get there",
    )
