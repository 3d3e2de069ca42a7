"""What an instrument is worth: straight line, and the value in the condition it is in.

Straight line is (cost - salvage) / life a year and never falls under salvage (North Carolina Office of the State
Controller, Statewide Accounting Policy 102.5, which takes the salvage value as zero).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from core.money import CENT, cents, dollars
from core.translation import gettext as _
from core.translation import ngettext


def book_value(*, cost: Decimal, salvage: Decimal, life_years: int, years: Decimal | int) -> Decimal:
    """Return what is left on the books after so many years in service; a part of a year counts as its share."""
    if life_years < 1:
        raise ValueError(f"{life_years} years is no life")
    if not 0 <= salvage <= cost:
        raise ValueError("salvage lies between nothing and the cost")
    used = min(max(Decimal(years), Decimal(0)), Decimal(life_years))
    return cents(cost - (cost - salvage) * used / life_years)


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
    line = book_value(cost=new, salvage=cents(new * facts.residual_share), life_years=facts.life_years, years=age)
    floor = cents(new * facts.playing_share)
    known_age = ngettext("%(number)s year old", "%(number)s years old", age)
    words = _(
        "a new one costs %(new)s; %(age)s of a life of %(life)s: %(line)s by straight line",
        new=dollars(new),
        age=known_age if facts.age_years is not None else _("age not known, taken as %(age)s years", age=age),
        life=facts.life_years,
        line=dollars(line),
    )
    if line < floor:
        least = f"{facts.playing_share * 100:.0f}%"
        words += _("; one that plays never counts for less than %(share)s", share=least)
    playing = max(line, floor)
    as_is = max(playing - facts.repair_amount, Decimal(0)).quantize(CENT)
    return Value(
        playing_amount=playing,
        as_is_amount=as_is,
        age_years=age,
        years_left=max(facts.life_years - age, 0),
        words=words,
        as_is_words=_(
            "%(value)s less %(repair)s to get there", value=dollars(playing), repair=dollars(facts.repair_amount)
        ),
    )
