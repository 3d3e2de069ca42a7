"""The need to replace: every way that years can go by, scipy's binomial, and renewal in the long run."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.rules.replacement import (
    FleetUnit,
    _in_cents,
    _Payments,
    expected_need,
    replace_first,
    replacement_need,
    steady_budget,
    yearly_chances,
)
from inventory.rules.survivors import SurvivorCurve, curve_of_span

D = Decimal
TRUMPET, TUBA = curve_of_span(10, 15), curve_of_span(15, 25)


def unit(
    number: str = "TP-1", *, curve: SurvivorCurve = TRUMPET, age: float | None = 8.0, price: str = "400", **more
) -> FleetUnit:
    return FleetUnit(number=number, curve=curve, age_years=age, replacement_amount=D(price), **more)


# One year's money


def payment_quantiles(payments: Mapping[tuple[Decimal, float], int], *, shares: Sequence[float]) -> tuple[Decimal, ...]:
    """Return the amounts that the sum of so many independent payments, each (amount, chance), stays within."""
    amounts = np.array([_in_cents(amount) for amount, _chance in payments], dtype=np.int64)
    chances = np.array([chance for _amount, chance in payments], dtype=np.float64)
    return _Payments(amounts, chances, np.array([*payments.values()], dtype=np.int64)).quantiles(shares)


def every_way(payments: Counter) -> list[tuple[Decimal, float]]:
    """Return each sum with its chance, by walking all subsets."""
    single = [one for one, number in payments.items() for _ in range(number)]
    sums: Counter = Counter()
    for paid in itertools.product([False, True], repeat=len(single)):
        amount = sum((amount for (amount, _), is_paid in zip(single, paid, strict=True) if is_paid), D(0))
        sums[amount] += math.prod(
            chance if is_paid else 1 - chance for (_, chance), is_paid in zip(single, paid, strict=True)
        )
    return sorted(sums.items())


amounts = st.sampled_from([D(150), D(400), D(1250), D("37.50"), D(0)])
chances = st.sampled_from([0.0, 0.013, 0.25, 0.5, 0.9, 1.0])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(amounts, chances), max_size=9), st.floats(0.02, 0.98))
def test_the_sum_is_what_all_ways_together_make(single, share):
    payments = Counter(single)
    reached, found = 0.0, payment_quantiles(payments, shares=[share])[0]
    for amount, chance in every_way(payments):
        reached += chance
        if abs(reached - share) < 1e-9:
            return  # on the edge of a step either side is right
        if reached > share:
            assert found == amount
            return


@pytest.mark.parametrize(("number", "chance"), [(1, 0.3), (40, 0.05), (40, 0.07), (3_000, 0.08), (50_000, 0.01)])
def test_alike_instruments_wear_out_by_the_binomial_distribution(number, chance):
    """Against scipy."""
    found = payment_quantiles({(D(425), chance): number}, shares=[0.1, 0.5, 0.9])
    assert [amount / 425 for amount in found] == list(stats.binom.ppf([0.1, 0.5, 0.9], number, chance))


@pytest.mark.parametrize(("low", "high"), [(0.01, 0.4), (0.45, 0.55), (0.6, 1.0)])
def test_ages_of_one_price_are_counted_together(low, high):
    """Against scipy's Poisson binomial distribution."""
    ages = np.linspace(low, high, 60)
    found = payment_quantiles({(D(100), float(chance)): 1 for chance in ages}, shares=[0.1, 0.9])
    assert [amount / 100 for amount in found] == list(stats.poisson_binom(ages).ppf([0.1, 0.9]))


def test_a_large_fleet_of_odd_prices_is_off_by_next_to_nothing():
    """Prices without a common divisor, so the lattice is coarse; against a normal curve with its skew (Cornish and Fisher)."""
    draw = np.random.default_rng(7)
    payments = Counter(
        (D(int(cents)) / 100, float(chance))
        for cents, chance in zip(draw.integers(20_000, 400_000, 5_000), draw.uniform(0.01, 0.3, 5_000), strict=True)
    )
    mean = sum(float(amount) * chance * number for (amount, chance), number in payments.items())
    variance = sum(float(amount) ** 2 * chance * (1 - chance) for (amount, chance) in payments.elements())
    third = sum(
        float(amount) ** 3 * chance * (1 - chance) * (1 - 2 * chance) for (amount, chance) in payments.elements()
    )
    deviation, skew = variance**0.5, third / variance**1.5
    for share, found in zip([0.1, 0.9], payment_quantiles(payments, shares=[0.1, 0.9]), strict=True):
        normal = stats.norm.ppf(share)
        expected = mean + deviation * (normal + (normal**2 - 1) * skew / 6)
        assert float(found) == pytest.approx(expected, abs=0.01 * deviation)


# By year


def walked(curve: SurvivorCurve, *, age: float, years: int) -> list[float]:
    """Return the chance of each year by walking every way that they can go by."""
    totals = [0.0] * years

    def walk(year: int, at_age: float, chance: float) -> None:
        if year == years:
            return
        alive = curve.surviving(at_age)
        worn = 1 - curve.surviving(at_age + 1) / alive if alive else 1.0
        totals[year] += chance * worn
        walk(year + 1, 0.0, chance * worn)
        walk(year + 1, at_age + 1, chance * (1 - worn))

    walk(0, age, 1.0)
    return totals


@pytest.mark.parametrize("curve", [TRUMPET, TUBA, SurvivorCurve(1.0, 3.0), SurvivorCurve(3.0, 2.0)])
@pytest.mark.parametrize("age", [0.0, 4.5, 12.0])
def test_a_place_is_renewed_as_all_ways_together_say(curve, age):
    assert yearly_chances(curve, age_years=age) == pytest.approx(walked(curve, age=age, years=10))


def test_a_life_without_memory_is_renewed_evenly():
    """Shape 1: whatever the age, 1 - exp(-1 / scale) a year, renewed or not."""
    assert yearly_chances(SurvivorCurve(1.0, 5.0), age_years=30) == pytest.approx([1 - math.exp(-0.2)] * 10)


def test_past_repair_is_the_first_year_s_and_its_successor_ages():
    found = yearly_chances(TRUMPET, age_years=3, is_past_repair=True)
    assert found[0] == 1
    assert found[1:] == pytest.approx(walked(TRUMPET, age=0.0, years=9))


def test_the_need_adds_up_and_grows_with_prices():
    units = [unit(age=age) for age in range(20)] + [unit(curve=TUBA, price="4200", age=age) for age in range(20)]
    plain, dearer = replacement_need(units), replacement_need(units, price_growth=D("0.03"))
    assert [need.year for need in plain] == list(range(1, 11))
    for need, grown in zip(plain, dearer, strict=True):
        year = need.year - 1
        trumpets = sum(yearly_chances(TRUMPET, age_years=age)[year] for age in range(20))
        tubas = sum(yearly_chances(TUBA, age_years=age)[year] for age in range(20))
        assert need.count == pytest.approx(trumpets + tubas)
        assert float(need.mean_amount) == pytest.approx(400 * trumpets + 4200 * tubas, abs=0.006)
        assert need.low_amount <= need.mean_amount <= need.high_amount
        for name in ("mean_amount", "low_amount", "high_amount"):
            assert float(getattr(grown, name)) == pytest.approx(float(getattr(need, name)) * 1.03**year, abs=0.02)


def test_what_is_expected_within_a_year_is_the_first_year_s():
    units = [unit(age=age) for age in range(20)] + [unit(curve=TUBA, price="4200", age=3, repair_amount=D(9000))]
    first = replacement_need(units)[0]
    assert expected_need(units) == (first.count, first.mean_amount)


def test_a_fleet_of_alike_ones_is_spread_by_the_binomial_distribution():
    need = replacement_need([unit(f"TP-{number}") for number in range(150)])[0]
    chance = 1 - TRUMPET.surviving(9) / TRUMPET.surviving(8)
    assert [need.low_amount, need.high_amount] == [400 * D(int(k)) for k in stats.binom.ppf([0.1, 0.9], 150, chance)]


def test_an_unknown_age_is_half_an_average_life():
    known = unit(age=TRUMPET.mean_years / 2)
    assert replacement_need([unit(age=None)]) == replacement_need([known])


def test_an_empty_fleet_needs_nothing():
    need = replacement_need([])
    assert {(one.count, one.mean_amount, one.low_amount, one.high_amount) for one in need} == {(0, D(0), D(0), D(0))}
    assert (replace_first([]), steady_budget([])) == ((), D(0))


def test_in_the_long_run_the_need_is_the_steady_budget():
    """The elementary renewal theorem: whatever its ages are today, over many lives a fleet costs amount / mean life a year."""
    units = [unit(curve=SurvivorCurve(2.0, 4.0), price="700", age=age) for age in (0.0, 3.0, 9.0)]
    late = replacement_need(units, years=60)[40:]
    # A year's end is where a new one begins, so a life counts whole years: half a year more on average.
    mean_years = sum(SurvivorCurve(2.0, 4.0).surviving(age) for age in range(60))
    assert all(float(one.mean_amount) == pytest.approx(3 * 700 / mean_years, rel=1e-3) for one in late)
    assert steady_budget(units) == (D(2100) / D(SurvivorCurve(2.0, 4.0).mean_years)).quantize(D("0.01"))
    assert mean_years == pytest.approx(SurvivorCurve(2.0, 4.0).mean_years + 0.5, abs=0.01)


def test_a_hundred_places_of_ten_years_cost_ten_prices_a_year():
    curve = SurvivorCurve(1.0, 10.0)  # mean life 10
    assert steady_budget([unit(curve=curve, price="300")] * 100) == D("3000.00")


# Which first


def test_past_repair_comes_first_then_the_likeliest_to_wear_out():
    units = [
        unit("young", age=2),
        unit("old", age=14),
        unit("dear", age=3, repair_amount=D(350), repair_limit=D("0.5")),
        unit("dearest", age=1, repair_amount=D(390), repair_limit=D("0.5")),
        unit("within", age=2, repair_amount=D(200), repair_limit=D("0.5")),
    ]
    found = replace_first(units)
    assert [one.number for one in found] == ["dearest", "dear", "old", "within", "young"]
    assert [one.wear_out_chance for one in found[:2]] == [1, 1]
    assert replace_first(units, most=2) == found[:2]
    assert found[0].words == "its repair costs $390, more than 50% of $400 for a new one"
    age = f"{TRUMPET.surviving(14) * 100:.0f}% get this old, {TRUMPET.wear_out_chance(age_years=14, years=1) * 100:.0f}% of those"
    assert found[2].words == f"14 years old, {TRUMPET.mean_years:.1f} on average; {age} wear out within a year"


def test_whoever_is_sure_to_wear_out_is_said_to_be():
    assert (
        replace_first([unit(age=80)])[0].words
        == "80 years old, 12.5 on average; under 1% get this old, over 99% of those wear out within a year"
    )


def test_a_guessed_age_is_said_to_be_one():
    assert replace_first([unit(age=None)])[0].words.startswith("age not known, taken as half of 12.5 years; ")
