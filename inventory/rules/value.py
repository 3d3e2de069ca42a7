"""What an instrument is worth: what another would cost, and the value in the condition it is in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from core.money import CENT, cents, dollars
from core.translation import gettext as _
from core.translation import ngettext
from inventory.rules.depreciation import book_value


def price_on(*, amount: Decimal, priced_on: date, day: date, growth: Decimal) -> Decimal:
    """Return what a price of one day is on another: it grows by the same share with each whole year, once a year.

    The years before ``priced_on`` are taken back the same way, the one that ends on it first.
    """
    years = day.year - priced_on.year - ((day.month, day.day) < (priced_on.month, priced_on.day))
    return cents(amount * (1 + growth) ** years)


def middle_price(prices: Mapping[str, tuple[Decimal, Decimal]], level: str) -> Decimal:
    """Return the middle of a kind's prices at this level, else at its first; $0 where it has none."""
    low, high = prices.get(level) or next(iter(prices.values()), (Decimal(0), Decimal(0)))
    return cents((low + high) / 2)


def middle_life(life_years: tuple[int, int]) -> Decimal:
    """Return the middle of the years that a kind lives in school use, exactly: of 10 to 15, twelve and a half."""
    return Decimal(sum(life_years)) / 2


def age_on(*, year_made: int | None, acquired_on: date | None, day: date) -> int | None:
    """Return the years since it was made, or since it came if that is all one knows."""
    if year_made:
        return max(day.year - year_made, 0)
    if acquired_on:
        return max((day - acquired_on).days // 365, 0)
    return None


# Capital or supply

FEDERAL_LEVEL = Decimal(10_000)  # 2 CFR 200.1, revision of 2024; awards of before may keep 5,000


class Treatment(StrEnum):
    CAPITAL = "capital"
    SUPPLY = "supply"
    NO_COST = "no_cost"  # nobody knows what was paid


def treatment(cost: Decimal | None, *, level: Decimal) -> Treatment:
    """Return how it stands in the books: capital from the district's capitalization level on."""
    if cost is None:
        return Treatment.NO_COST
    return Treatment.CAPITAL if cost >= level else Treatment.SUPPLY


def is_federal_equipment(cost: Decimal, *, level: Decimal, federal_level: Decimal = FEDERAL_LEVEL) -> bool:
    """Return whether it is equipment under 2 CFR 200.1: from the lesser of the district's level and the federal one on."""
    return cost >= min(level, federal_level)


# Condition index


class Band(StrEnum):
    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"
    CRITICAL = "critical"


def condition_index(*, repair_amount: Decimal, replacement_amount: Decimal) -> Decimal | None:
    """Return cost to playing condition over replacement cost, both summed first; None where there is nothing to replace.

    The facility condition index of the building trade: deficiencies over current replacement value.
    """
    return repair_amount / replacement_amount if replacement_amount else None


CUT_POINTS = ((Band.GOOD, "index_good_to"), (Band.FAIR, "index_fair_to"), (Band.POOR, "index_poor_to"))


def index_band(index: Decimal, *, settings: Mapping[str, Decimal]) -> Band:
    """Return the band that an index is in; the cut points are settings and each belongs to the better band.

    5, 10 and 30 % are a convention of facility managers, no standard.
    """
    for band, cut_point in CUT_POINTS:
        if index <= settings[cut_point]:
            return band
    return Band.CRITICAL


@dataclass(frozen=True, slots=True)
class ValueFacts:
    """What a value hangs on. Shares are of the price of a new one of the same level."""

    replacement_amount: Decimal
    age_years: int | None  # None: nobody knows; then half a life is assumed
    life_years: Decimal | int
    residual_share: Decimal  # what is left at the end of a life
    playing_share: Decimal = Decimal(0)  # one that plays never counts for less: it can still go out
    repair_amount: Decimal = Decimal(0)  # cost to playing condition

    @property
    def age(self) -> int:
        return self.age_years if self.age_years is not None else int(self.life_years // 2)


@dataclass(frozen=True, slots=True)
class Value:
    """In playing condition, and as it is, with how each was calculated."""

    playing_amount: Decimal
    as_is_amount: Decimal
    age_years: int
    words: str  # how the value in playing condition was calculated
    as_is_words: str


def as_is_amount(facts: ValueFacts) -> Decimal:
    """Return the value as it is, without a word: for sums over many."""
    return _amounts(facts)[2]


def _amounts(facts: ValueFacts) -> tuple[Decimal, Decimal, Decimal]:
    """Return the straight line, the value in playing condition, and the value as it is."""
    new = facts.replacement_amount
    salvage = cents(new * facts.residual_share)
    line = book_value(cost=new, salvage=salvage, life_years=facts.life_years, years=facts.age)
    playing = max(line, cents(new * facts.playing_share))
    return line, playing, max(playing - facts.repair_amount, Decimal(0)).quantize(CENT)


def value_of(facts: ValueFacts) -> Value:
    """Return the value in playing condition (straight line on today's price) and as it is (less the repair)."""
    age = facts.age
    line, playing, as_is = _amounts(facts)
    known_age = ngettext("%(number)s year old", "%(number)s years old", age)
    words = _(
        "a new one costs %(new)s; %(age)s of a life of %(life)s: %(line)s by straight line",
        new=dollars(facts.replacement_amount),
        age=known_age if facts.age_years is not None else _("age not known, taken as %(age)s years", age=age),
        life=facts.life_years,
        line=dollars(line),
    )
    if line < playing:
        least = f"{facts.playing_share * 100:.0f}%"
        words += _("; one that plays never counts for less than %(share)s", share=least)
    return Value(
        playing_amount=playing,
        as_is_amount=as_is,
        age_years=age,
        words=words,
        as_is_words=_(
            "%(value)s less %(repair)s to get there", value=dollars(playing), repair=dollars(facts.repair_amount)
        ),
    )
