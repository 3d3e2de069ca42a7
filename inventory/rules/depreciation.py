"""What is left of the cost on the books: straight line for one instrument, a kind as a group, a fleet as a composite.

Straight line is (cost - salvage) / life a year and never falls under salvage. Part of a year counts by the nearest full
month, the salvage value is taken as zero unless the district says otherwise (North Carolina Office of the State
Controller, Statewide Accounting Policy 102.5, 2023). A group is charged 1 / life of its cost a year, a whole year for the
one in which something was placed in service and nothing for the one in which it went (Town of Lagrange, Indiana, Code
§ 36.23). A composite rate is the sum of the yearly charges over the sum of the costs (any text on accounting).
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from core.days import add_months
from core.money import cents

MONTHS = 12  # of a year


@dataclass(frozen=True, slots=True)
class Asset:
    """What one thing, or a class of things that are alike, was charged from. Dollars; life in years, also half ones."""

    cost: Decimal
    salvage: Decimal
    life_years: Decimal | int

    @property
    def yearly(self) -> Decimal:
        """The charge of a whole year, not rounded."""
        return (self.cost - self.salvage) / _life(self.life_years)


def book_value(*, cost: Decimal, salvage: Decimal, life_years: Decimal | int, years: Decimal | int) -> Decimal:
    """Return what is left on the books after so many years in service; a part of a year counts as its share."""
    return _left(cost, salvage, life=_life(life_years), used=Decimal(years))


def book_on(asset: Asset, *, in_service_on: date, day: date) -> Decimal:
    """Return what is left on the books at the end of a day, by the nearest full month in service."""
    months = months_in_service(in_service_on=in_service_on, day=day)
    return _left(asset.cost, asset.salvage, life=_life(asset.life_years) * MONTHS, used=Decimal(months))


def _life(years: Decimal | int) -> Decimal | int:
    if years < 1:
        raise ValueError(f"{years} years is no life")
    return years


def _left(cost: Decimal, salvage: Decimal, *, life: Decimal | int, used: Decimal) -> Decimal:
    """One division, last: a half cent stays a half cent."""
    if not 0 <= salvage <= cost:
        raise ValueError("salvage lies between nothing and the cost")
    return cents(cost - (cost - salvage) * min(max(used, Decimal(0)), Decimal(life)) / life)


def months_in_service(*, in_service_on: date, day: date) -> int:
    """Return the months from one day to another, to the nearest full month; half a month and more is one. 0 before."""
    if day <= in_service_on:
        return 0
    whole = (day.year - in_service_on.year) * MONTHS + day.month - in_service_on.month
    if add_months(in_service_on, whole) > day:
        whole -= 1
    begun, ends = add_months(in_service_on, whole), add_months(in_service_on, whole + 1)
    return whole + ((day - begun) * 2 >= ends - begun)


@dataclass(frozen=True, slots=True)
class Composite:
    """Many things charged as one. No rate and no life where nothing was paid, or nothing is charged."""

    cost: Decimal
    yearly_amount: Decimal  # to the cent
    rate: Decimal | None  # of the cost, a year
    life_years: Decimal | None  # what is to be charged / the yearly charge


def composite(assets: Iterable[Asset]) -> Composite:
    """Return rate and life of many things charged as one: sum of yearly charges over sum of costs."""
    cost = charged = yearly = Decimal(0)
    for one in assets:
        cost += one.cost
        charged += one.cost - one.salvage
        yearly += one.yearly
    return Composite(
        cost=cost,
        yearly_amount=cents(yearly),
        rate=yearly / cost if cost else None,
        life_years=charged / yearly if yearly else None,
    )


# Fiscal years


def fiscal_year(day: date, *, begins: tuple[int, int]) -> tuple[date, date]:
    """Return first and last day of the fiscal year that a day is in; ``begins`` is month and day.

    A year that begins on February 29 begins on February 28 where there is none.
    """
    first = _day_in(day.year, begins)
    if first > day:
        first = _day_in(day.year - 1, begins)
    return first, _day_in(first.year + 1, begins) - timedelta(days=1)


def _day_in(year: int, begins: tuple[int, int]) -> date:
    month, day = begins
    return date(year, month, min(day, monthrange(year, month)[1]))


def group_book(asset: Asset, *, in_service_on: date, day: date, begins: tuple[int, int]) -> Decimal:
    """Return what is left of one member of a group at the close of the fiscal year that the day is in."""
    first, _ = fiscal_year(in_service_on, begins=begins)
    now, _ = fiscal_year(day, begins=begins)
    years = max(now.year - first.year + 1, 0) if day >= in_service_on else 0
    return _left(asset.cost, asset.salvage, life=_life(asset.life_years), used=Decimal(years))
