"""Prices, thresholds and bands against published figures, and the value in the condition it is in."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.catalog.load import load_catalog
from inventory.rules.value import (
    Treatment,
    ValueFacts,
    age_on,
    as_is_amount,
    condition_index,
    index_band,
    is_federal_equipment,
    middle_life,
    middle_price,
    price_on,
    treatment,
    value_of,
)


def facts(**overrides) -> ValueFacts:
    fields = {
        "replacement_amount": Decimal(1000), "age_years": 5, "life_years": 10, "residual_share": Decimal("0.1"),
    }  # fmt: skip
    return ValueFacts(**(fields | overrides))


# What another would cost


@pytest.mark.parametrize(
    ("day", "price"),
    [
        (date(2026, 3, 1), "1000.00"),
        (date(2027, 2, 28), "1000.00"),
        (date(2027, 3, 1), "1030.00"),
        (date(2028, 3, 1), "1060.90"),
        (date(2026, 2, 28), "970.87"),  # 1000 / 1.03
        (date(2025, 3, 1), "970.87"),
        (date(2025, 2, 28), "942.60"),  # 1000 / 1.0609
    ],
    ids=str,
)
def test_a_price_grows_once_with_each_whole_year_and_back_the_same_way(day, price):
    """Compound growth, 1.03² = 1.0609; worked by hand."""
    grown = price_on(amount=Decimal(1000), priced_on=date(2026, 3, 1), day=day, growth=Decimal("0.03"))
    assert grown == Decimal(price)


@given(first=st.dates(date(1950, 1, 1), date(2090, 1, 1)), later=st.dates(date(1950, 1, 1), date(2090, 1, 1)))
def test_a_price_never_falls_with_the_days(first, later):
    first, later = sorted((first, later))
    priced = {"amount": Decimal(800), "priced_on": date(2020, 2, 29), "growth": Decimal("0.03")}
    assert price_on(**priced, day=first) <= price_on(**priced, day=later)


def test_a_kind_costs_the_middle_of_its_level_else_of_its_first():
    prices = {"student": (Decimal(400), Decimal(900)), "intermediate": (Decimal(1200), Decimal(2201))}
    assert middle_price(prices, "student") == 650
    assert middle_price(prices, "intermediate") == Decimal("1700.50")
    assert middle_price(prices, "concert") == 650
    assert middle_price({}, "student") == 0


def test_age_is_by_the_year_it_was_made_else_by_when_it_came():
    day = date(2026, 6, 30)
    assert age_on(year_made=2016, acquired_on=date(2020, 1, 1), day=day) == 10
    assert age_on(year_made=None, acquired_on=date(2020, 7, 1), day=day) == 6  # 2190 days, 365 a year
    assert age_on(year_made=2027, acquired_on=None, day=day) == 0
    assert age_on(year_made=None, acquired_on=None, day=day) is None


def test_a_life_is_the_middle_of_its_years():
    """Worked by hand: (10 + 15) / 2 = 12.5, and (15 + 20) / 2 = 17.5: neither is rounded, up or down."""
    assert [middle_life(span) for span in ((10, 20), (10, 15), (15, 20))] == [15, Decimal("12.5"), Decimal("17.5")]


# Capital or supply


@pytest.mark.parametrize(
    ("cost", "told"), [("4999.99", "supply"), ("5000.00", "capital"), ("5000.01", "capital"), ("0.00", "supply")]
)
def test_capital_begins_at_the_districts_level(cost, told):
    """2 CFR 200.1, Equipment (2024 revision): "equals or exceeds" the level."""
    assert treatment(Decimal(cost), level=Decimal(5000)) == told


def test_without_a_cost_it_is_neither():
    assert treatment(None, level=Decimal(0)) is Treatment.NO_COST


@pytest.mark.parametrize(
    ("cost", "level", "is_equipment"),
    [
        ("6500", "5000", True),
        ("6500", "25000", False),
        ("10000.00", "25000", True),
        ("9999.99", "25000", False),
        ("5000.00", "5000", True),
        ("4999.99", "5000", False),
    ],
)
def test_federal_equipment_begins_at_the_lesser_of_both_levels(cost, level, is_equipment):
    """2 CFR 200.1 (2024 revision): "the lesser of the capitalization level … or $10,000"."""
    assert is_federal_equipment(Decimal(cost), level=Decimal(level)) is is_equipment


def test_an_award_of_before_may_keep_its_own_level():
    """Before the 2024 revision the federal level was $5,000 (an older text of the same section)."""
    assert is_federal_equipment(Decimal(5000), level=Decimal(25_000), federal_level=Decimal(5000))


# Condition index

BANDS = {"index_good_to": Decimal("0.05"), "index_fair_to": Decimal("0.10"), "index_poor_to": Decimal("0.30")}


def test_an_index_is_what_is_to_be_repaired_over_what_is_to_be_replaced():
    """A published example, "Facility condition index: formula, scores and budgeting" (2024): $2 M of $20 M is 0.10."""
    index = condition_index(repair_amount=Decimal(2_000_000), replacement_amount=Decimal(20_000_000))
    assert index == Decimal("0.10")


def test_nothing_to_replace_has_no_index():
    assert condition_index(repair_amount=Decimal(0), replacement_amount=Decimal(0)) is None


@pytest.mark.parametrize(
    ("index", "band"),
    [
        ("0", "good"), ("0.05", "good"), ("0.0501", "fair"), ("0.10", "fair"), ("0.1001", "poor"),
        ("0.30", "poor"), ("0.3001", "critical"), ("1.4", "critical"),
    ],
)  # fmt: skip
def test_bands_are_those_of_facility_managers_and_each_cut_point_belongs_to_the_better(index, band):
    """Published bands ("Facility condition indexing"): good 0-5 %, fair 5-10, poor 10-30, critical above 30."""
    assert index_band(Decimal(index), settings=BANDS) == band


def test_a_district_that_sets_other_cut_points_gets_other_bands():
    assert index_band(Decimal("0.2"), settings=BANDS | {"index_good_to": Decimal("0.25")}) == "good"


def test_the_catalogs_cut_points_are_the_published_ones():
    assert {name: load_catalog().settings[name] for name in BANDS} == BANDS


# Value in the condition it is in


def test_value_in_playing_condition_goes_down_with_age_in_a_straight_line():
    assert value_of(facts()).playing_amount == 550
    assert value_of(facts(age_years=0)).playing_amount == 1000


def test_one_that_plays_never_counts_for_less_than_its_floor():
    old = value_of(facts(age_years=40, playing_share=Decimal("0.3")))
    assert old.playing_amount == 300
    assert "never counts for less than 30%" in old.words


@given(
    age=st.none() | st.integers(0, 40),
    repair=st.decimals(min_value=0, max_value=1500, places=2),
    share=st.decimals(min_value=0, max_value=1, places=2),
)
def test_the_amount_without_words_is_the_same(age, repair, share):
    given_facts = facts(age_years=age, repair_amount=repair, playing_share=share)
    assert as_is_amount(given_facts) == value_of(given_facts).as_is_amount


def test_an_unknown_age_is_said_to_be_assumed():
    assert "not known, taken as 5 years" in value_of(facts(age_years=None)).words


def test_value_as_it_is_is_less_by_the_repair_and_never_below_nothing():
    assert value_of(facts(repair_amount=Decimal("49.50"))).as_is_amount == Decimal("500.50")
    assert value_of(facts(repair_amount=Decimal(9000))).as_is_amount == 0
