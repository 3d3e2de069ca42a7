"""How long it pays to keep one: the textbook's curve to the cent, and an independent library for annuities."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy_financial as npf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.economic_life import (
    MOST_YEARS,
    EconomicLifeError,
    capital_recovery,
    cost_curve,
    economic_life,
    equivalent_annual_cost,
)

D = Decimal
# Newnan, Eschenbach and Lavelle, Engineering Economic Analysis, ch. 13, Example 13-1: $7,500, no salvage, maintenance 0 then
# 900 more each year, operation 500 then 400 more each year, 8%. Printed: least at 4 years, $4,589. The curve in cents is
# numpy-financial's pmt of the present value; the book rounds its factors.
UPKEEP = [D(900 * year + 500 + 400 * year) for year in range(8)]
CURVE = ["8600.00", "5330.77", "4643.62", "4589.55", "4778.84", "5081.62", "5442.31", "5833.19"]


def test_the_economic_life_is_the_textbook_s():
    found = economic_life(purchase=D(7500), upkeep=UPKEEP, rate=D("0.08"))
    assert found.years == 4
    assert abs(found.annual_amount - 4589) <= 1
    assert found.curve == tuple(map(D, CURVE))


def by_library(first_cost, costs, salvages, rate, years):
    """The present value by npv, spread by pmt."""
    flows = [first_cost, *costs[:years]]
    flows[-1] -= salvages[years - 1]
    return -npf.pmt(rate, years, npf.npv(rate, flows))


@given(
    st.integers(0, 5_000),
    st.lists(st.tuples(st.integers(0, 900), st.integers(0, 3_000)), min_size=1, max_size=30),
    st.integers(0, 200).map(lambda tenths: D(tenths) / 1000),
)
def test_every_year_is_what_an_independent_library_says(purchase, years, rate):
    costs, salvages = [float(cost) for cost, _ in years], [float(sold) for _, sold in years]
    found = economic_life(
        purchase=D(purchase), upkeep=[D(cost) for cost, _ in years], salvage=[D(sold) for _, sold in years], rate=rate
    )
    expected = [by_library(float(purchase), costs, salvages, float(rate), number + 1) for number in range(len(years))]
    assert [float(amount) for amount in found.curve] == pytest.approx(expected, abs=0.006)
    assert found.annual_amount == min(found.curve)
    assert found.curve[found.years - 1] == found.annual_amount


def test_of_lives_that_cost_the_same_the_shorter_is_taken():
    found = economic_life(purchase=D(0), upkeep=[D(10), D(10), D(10)], rate=D("0.05"))
    assert (found.years, found.annual_amount) == (1, D("10.00"))


def test_an_exact_tie_is_seen_where_floats_would_part_it():
    """300 over 3 years at 0%, nothing else: 300, 150, 100; a fourth year with 100 of upkeep is 100 again."""
    found = economic_life(purchase=D(300), upkeep=[D(0), D(0), D(0), D(100)], rate=D(0))
    assert (found.years, found.curve) == (3, (D("300.00"), D("150.00"), D("100.00"), D("100.00")))


def test_a_cost_just_between_two_cents_is_rounded_up():
    assert economic_life(purchase=D("0.01"), upkeep=[D(0), D(0)], rate=D(0)).curve[1] == D("0.01")


@pytest.mark.parametrize("years", [1, 3, 10, 25])
@pytest.mark.parametrize("rate", ["0", "0.03", "0.08"])
def test_spreading_a_cost_is_what_a_loan_payment_is(years, rate):
    """Against numpy-financial's pmt."""
    assert float(capital_recovery(rate=D(rate), years=years)) == pytest.approx(-float(npf.pmt(float(rate), years, 1)))


def test_salvage_lowers_the_yearly_cost_by_its_sinking_fund():
    plain = equivalent_annual_cost(first_cost=1000, yearly_costs=[0] * 10, rate=D("0.05"))
    kept = equivalent_annual_cost(first_cost=1000, yearly_costs=[0] * 10, rate=D("0.05"), salvage=200)
    assert float(plain - kept) == pytest.approx(-float(npf.pmt(0.05, 10, 0, 200)))


@given(st.lists(st.integers(0, 900), min_size=1, max_size=20), st.integers(0, 99).map(lambda part: Fraction(part, 700)))
def test_the_curve_ends_in_the_cost_of_all_its_years(costs, rate):
    curve = cost_curve(first_cost=800, yearly_costs=costs, rate=rate, salvages=[5] * len(costs))
    assert curve[-1] == equivalent_annual_cost(first_cost=800, yearly_costs=costs, rate=rate, salvage=5)


def test_no_years_are_no_span():
    with pytest.raises(ValueError, match="no span"):
        capital_recovery(rate=D("0.05"), years=0)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"upkeep": []}, "Upkeep has 0 years; it needs from 1 to 200"),
        ({"upkeep": [D(1)] * (MOST_YEARS + 1)}, "Upkeep has 201 years"),
        ({"salvage": [D(1)]}, "Upkeep has 2 years and salvage 1 year; they must have the same years"),
        ({"salvage": []}, "Upkeep has 2 years and salvage 0 years"),
        ({"rate": D("-0.01")}, "rate -0.01 must be 0 or more and below 1: 0.05 is 5% a year"),
        ({"rate": D(8)}, "rate 8 must be"),
        ({"purchase": D("-0.01")}, "purchase -0.01 is below 0"),
        ({"upkeep": [D(1), D(-2)]}, "upkeep -2 is below 0"),
        ({"salvage": [D(1), D(-3)]}, "salvage -3 is below 0"),
    ],
)
def test_figures_that_make_no_life_are_refused_with_the_reason(changed, words):
    figures = {"purchase": D(100), "upkeep": [D(1), D(2)], "rate": D("0.05")}
    with pytest.raises(EconomicLifeError, match=words):
        economic_life(**(figures | changed))


def test_the_longest_curve_at_a_rate_of_many_digits_takes_no_time():
    found = economic_life(purchase=D(1000), upkeep=[D(5)] * MOST_YEARS, rate=D("0.012345678901234567890123456789"))
    assert found.years == MOST_YEARS
