"""Straight line against published and textbook examples, and the value in the condition it is in."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.value import ValueFacts, book_value, value_of


def facts(**overrides) -> ValueFacts:
    fields = {
        "replacement_amount": Decimal(1000), "age_years": 5, "life_years": 10, "residual_share": Decimal("0.1"),
    }  # fmt: skip
    return ValueFacts(**(fields | overrides))


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


def test_value_in_playing_condition_goes_down_with_age_in_a_straight_line():
    assert value_of(facts()).playing_amount == 550
    assert value_of(facts(age_years=0)).playing_amount == 1000


def test_one_that_plays_never_counts_for_less_than_its_floor():
    old = value_of(facts(age_years=40, playing_share=Decimal("0.3")))
    assert old.playing_amount == 300
    assert "never counts for less than 30%" in old.words
    assert old.years_left == 0


def test_an_unknown_age_is_said_to_be_assumed():
    assert "not known, taken as 5 years" in value_of(facts(age_years=None)).words


def test_value_as_it_is_is_less_by_the_repair_and_never_below_nothing():
    assert value_of(facts(repair_amount=Decimal("49.50"))).as_is_amount == Decimal("500.50")
    assert value_of(facts(repair_amount=Decimal(9000))).as_is_amount == 0
