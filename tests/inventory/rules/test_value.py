"""Straight line, composite and replacement figures against published and textbook examples."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.value import (
    Group,
    ValueFacts,
    book_value,
    composite_life,
    composite_rate,
    replacement_cost,
    value_of,
    yearly_charges,
)

# Kieso, Weygandt and Warfield, Intermediate Accounting, ch. 11 (figures from memory; the arithmetic checks): cars, trucks,
# campers.
CARS = Group(cost=Decimal(145_000), salvage=Decimal(25_000), life_years=3)
TRUCKS = Group(cost=Decimal(44_000), salvage=Decimal(4_000), life_years=4)
CAMPERS = Group(cost=Decimal(35_000), salvage=Decimal(5_000), life_years=5)


def facts(**overrides) -> ValueFacts:
    fields = {
        "replacement_amount": Decimal(1000), "age_years": 5, "life_years": 10, "residual_share": Decimal("0.1"),
    }  # fmt: skip
    return ValueFacts(**(fields | overrides))


def test_composite_rate_and_life_are_the_textbook_s():
    assert composite_rate([CARS, TRUCKS, CAMPERS]) == Decimal("0.25")
    assert round(composite_life([CARS, TRUCKS, CAMPERS]), 2) == Decimal("3.39")


def test_each_group_is_charged_as_the_textbook_says():
    charges = [
        yearly_charges(cost=group.cost, salvage=group.salvage, life_years=group.life_years)[0]
        for group in (CARS, TRUCKS, CAMPERS)
    ]
    assert charges == [40_000, 10_000, 6_000]


def test_a_life_of_25_years_is_four_per_cent_a_year():
    """Town of Lagrange, Indiana, Code § 36.23: "depreciated at 4% each year (1/25)"."""
    assert composite_rate([Group(cost=Decimal(100), salvage=Decimal(0), life_years=25)]) == Decimal("0.04")


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
def test_the_charges_add_up_to_cost_less_salvage_to_the_cent(cost, share, life):
    salvage = (cost * share).quantize(Decimal("0.01"))
    if salvage <= cost:
        assert sum(yearly_charges(cost=cost, salvage=salvage, life_years=life)) == cost - salvage


@pytest.mark.parametrize(("years", "left"), [(-3, 1000), (0, 1000), (10, 100), (40, 100)])
def test_a_book_value_stays_between_salvage_and_cost(years, left):
    assert book_value(cost=Decimal(1000), salvage=Decimal(100), life_years=10, years=years) == left


def test_no_life_and_a_salvage_above_the_cost_are_refused():
    with pytest.raises(ValueError, match="no life"):
        book_value(cost=Decimal(1), salvage=Decimal(0), life_years=0, years=1)
    with pytest.raises(ValueError, match="salvage"):
        book_value(cost=Decimal(1), salvage=Decimal(2), life_years=5, years=1)


def test_prices_grow_year_by_year_and_shrink_backwards():
    assert replacement_cost(amount=Decimal(1000), growth=Decimal("0.03"), years=2) == Decimal("1060.90")
    assert replacement_cost(amount=Decimal("1060.90"), growth=Decimal("0.03"), years=-2) == Decimal("1000.00")


def test_value_in_playing_condition_goes_down_with_age_in_a_straight_line():
    assert value_of(facts()).playing_amount == 550
    assert value_of(facts(age_years=0)).playing_amount == 1000


def test_one_that_plays_never_counts_for_less_than_its_floor():
    old = value_of(facts(age_years=40, playing_share=Decimal("0.3")))
    assert old.playing_amount == 300
    assert "never counts for less than 30 %" in old.words
    assert old.years_left == 0


def test_an_unknown_age_is_said_to_be_assumed():
    assert "not known, taken as 5 years" in value_of(facts(age_years=None)).words


def test_value_as_it_is_is_less_by_the_repair_and_never_below_nothing():
    assert value_of(facts(repair_amount=Decimal("49.50"))).as_is_amount == Decimal("500.50")
    assert value_of(facts(repair_amount=Decimal(9000))).as_is_amount == 0
