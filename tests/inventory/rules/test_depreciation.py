"""What is left on the books, against published rules and textbook examples."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.depreciation import (
    Asset,
    book_on,
    book_value,
    composite,
    fiscal_year,
    group_book,
    months_in_service,
)

JULY = (7, 1)


def first_charge(*, cost: int, salvage: int, life_years: int) -> Decimal:
    """What the first year takes off."""
    return cost - book_value(cost=Decimal(cost), salvage=Decimal(salvage), life_years=life_years, years=1)


@pytest.mark.parametrize(
    ("cost", "salvage", "life", "charge"),
    [(145_000, 25_000, 3, 40_000), (44_000, 4_000, 4, 10_000), (35_000, 5_000, 5, 6_000)],
    ids=["cars", "trucks", "campers"],
)
def test_a_year_is_charged_as_the_textbook_says(cost, salvage, life, charge):
    """Kieso, Weygandt and Warfield, Intermediate Accounting, ch. 11 (figures from memory; the arithmetic checks)."""
    assert first_charge(cost=cost, salvage=salvage, life_years=life) == charge


def test_a_life_of_25_years_is_four_per_cent_a_year():
    """Town of Lagrange, Indiana, Code § 36.23: "depreciated at 4% each year (1/25)"."""
    assert first_charge(cost=100, salvage=0, life_years=25) == 4


def test_straight_line_takes_no_salvage_unless_told():
    """North Carolina Office of the State Controller, Policy 102.5: total cost divided by estimated useful life."""
    assert book_value(cost=Decimal(1200), salvage=Decimal(0), life_years=12, years=5) == 700


def test_a_half_year_counts_half():
    """Same policy: the half-year convention is allowed."""
    assert book_value(cost=Decimal(1200), salvage=Decimal(0), life_years=12, years=Decimal("0.5")) == 1150


@given(
    cost=st.decimals(min_value=0, max_value=90_000, places=2),
    share=st.decimals(min_value=0, max_value=1, places=2),
    life=st.integers(min_value=1, max_value=40),
)
def test_a_life_leads_from_the_cost_down_to_the_salvage_to_the_cent(cost, share, life):
    salvage = min((cost * share).quantize(Decimal("0.01")), cost)
    values = [book_value(cost=cost, salvage=salvage, life_years=life, years=year) for year in range(life + 1)]
    assert (values[0], values[-1]) == (cost, salvage)
    assert values == sorted(values, reverse=True)


@pytest.mark.parametrize(("years", "left"), [(-3, 1000), (0, 1000), (10, 100), (40, 100)])
def test_a_book_value_stays_between_salvage_and_cost(years, left):
    assert book_value(cost=Decimal(1000), salvage=Decimal(100), life_years=10, years=years) == left


def test_no_life_and_a_salvage_above_the_cost_are_refused():
    with pytest.raises(ValueError, match="no life"):
        book_value(cost=Decimal(1), salvage=Decimal(0), life_years=0, years=1)
    with pytest.raises(ValueError, match="salvage"):
        book_value(cost=Decimal(1), salvage=Decimal(2), life_years=5, years=1)


# On a day


@pytest.mark.parametrize(
    ("begun", "day", "months"),
    [
        (date(2020, 7, 1), date(2020, 7, 1), 0),
        (date(2020, 7, 1), date(2020, 6, 30), 0),
        (date(2020, 7, 1), date(2021, 6, 30), 12),
        (date(2020, 7, 15), date(2021, 6, 30), 12),  # 11 months and 15 of 30 days
        (date(2020, 7, 16), date(2021, 6, 30), 11),  # 11 months and 14 of 30 days
        (date(2020, 8, 31), date(2020, 9, 30), 1),
        (date(2020, 1, 31), date(2020, 2, 29), 1),
        (date(2020, 2, 29), date(2021, 2, 28), 12),
        (date(2020, 7, 20), date(2020, 8, 4), 0),  # 15 of 31 days
        (date(2020, 7, 20), date(2020, 8, 5), 1),
    ],
    ids=str,
)
def test_a_part_of_a_year_counts_by_the_nearest_full_month(begun, day, months):
    """North Carolina Office of the State Controller, Policy 102.5 (2023): "on the basis of the nearest full month"."""
    assert months_in_service(in_service_on=begun, day=day) == months


def test_halfway_through_its_life_half_of_it_is_left():
    """Same policy: total cost divided by estimated useful life, salvage zero. 72 of 144 months."""
    asset = Asset(cost=Decimal("1234.50"), salvage=Decimal(0), life_years=12)
    assert book_on(asset, in_service_on=date(2020, 7, 1), day=date(2026, 6, 30)) == Decimal("617.25")


def test_half_a_cent_is_rounded_up():
    """1000.01 over 10 years, half of it: 500.005."""
    asset = Asset(cost=Decimal("1000.01"), salvage=Decimal(0), life_years=10)
    assert book_on(asset, in_service_on=date(2020, 7, 1), day=date(2025, 7, 1)) == Decimal("500.01")


@given(
    cost=st.decimals(min_value=0, max_value=90_000, places=2),
    share=st.decimals(min_value=0, max_value=1, places=2),
    life=st.integers(min_value=1, max_value=30),
    begun=st.dates(date(1960, 1, 1), date(2050, 1, 1)),
)
def test_yearly_charges_add_up_to_cost_less_salvage_to_the_cent(cost, share, life, begun):
    salvage = min((cost * share).quantize(Decimal("0.01")), cost)
    year_ends = [date(year, 6, 30) for year in range(begun.year - 1, begun.year + life + 2)]
    asset = Asset(cost=cost, salvage=salvage, life_years=life)
    left = [book_on(asset, in_service_on=begun, day=day) for day in year_ends]
    charges = [before - now for before, now in pairwise(left)]
    assert (left[0], left[-1]) == (cost, salvage)
    assert min(charges) >= 0
    assert sum(charges) == cost - salvage


# Many as one

TEXTBOOK = (
    Asset(cost=Decimal(145_000), salvage=Decimal(25_000), life_years=3),
    Asset(cost=Decimal(44_000), salvage=Decimal(4_000), life_years=4),
    Asset(cost=Decimal(35_000), salvage=Decimal(5_000), life_years=5),
)


def test_rate_and_life_of_a_composite_are_the_textbooks():
    """Kieso, Weygandt and Warfield, Intermediate Accounting, ch. 11: 56,000 / 224,000 = 25 %; 190,000 / 56,000 = 3.39."""
    found = composite(TEXTBOOK)
    assert (found.cost, found.yearly_amount) == (224_000, 56_000)
    assert found.rate == Decimal("0.25")
    assert found.life_years is not None
    assert round(found.life_years, 2) == Decimal("3.39")


def test_another_published_ratio():
    """An accounting text's excerpt: 33,000 of 176,000 a year is 18.75 %."""
    found = composite([Asset(cost=Decimal(176_000), salvage=Decimal(11_000), life_years=5)])
    assert (found.yearly_amount, found.rate) == (33_000, Decimal("0.1875"))


def test_a_group_with_a_life_of_25_years_has_a_rate_of_four_per_cent():
    """Town of Lagrange, Indiana, Code § 36.23."""
    found = composite([Asset(cost=Decimal(80), salvage=Decimal(0), life_years=25)] * 3)
    assert (found.rate, found.life_years) == (Decimal("0.04"), 25)


def test_nothing_has_neither_rate_nor_life():
    found = composite([])
    assert (found.rate, found.life_years) == (None, None)


@pytest.mark.parametrize(
    ("day", "left"),
    [
        (date(2020, 10, 14), 100),  # not here yet
        (date(2020, 10, 15), 96),  # a whole year for the one it came in
        (date(2021, 6, 30), 96),
        (date(2021, 7, 1), 92),
        (date(2045, 6, 30), 0),  # the 25th year
        (date(2060, 6, 30), 0),
    ],
    ids=str,
)
def test_a_group_is_charged_a_whole_year_for_the_one_it_was_placed_in_service(day, left):
    """Same code: "a group of assets with a 25-year life will be depreciated at 4% each year", whole years."""
    asset = Asset(cost=Decimal(100), salvage=Decimal(0), life_years=25)
    assert group_book(asset, in_service_on=date(2020, 10, 15), day=day, begins=JULY) == left


# Fiscal years


@pytest.mark.parametrize(
    ("day", "begins", "first", "last"),
    [
        (date(2026, 6, 30), JULY, date(2025, 7, 1), date(2026, 6, 30)),
        (date(2026, 7, 1), JULY, date(2026, 7, 1), date(2027, 6, 30)),
        (date(2026, 3, 1), (1, 1), date(2026, 1, 1), date(2026, 12, 31)),
        (date(2027, 2, 28), (2, 29), date(2027, 2, 28), date(2028, 2, 28)),
    ],
    ids=str,
)
def test_a_fiscal_year_begins_on_its_day(day, begins, first, last):
    """Common practice, no source: a year runs to the day before the next begins."""
    assert fiscal_year(day, begins=begins) == (first, last)
