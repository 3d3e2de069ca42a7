"""Lives by kind: published fits, scipy's fit of censored data, and registers drawn from a known curve."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from inventory.rules.survivors import Origin, SeenLife, SurvivorCurve, curve_of_span, learn_curve

START = curve_of_span(10, 18)
# Lieblein and Zelen, Journal of Research of the National Bureau of Standards 57 (1956): millions of turns of ball bearings.
BEARINGS = [
    17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64, 68.88, 84.12, 93.12,
    98.64, 105.12, 105.84, 127.92, 128.04, 173.40,
]  # fmt: skip


def test_ball_bearings_last_as_published():
    """Shape 2.102 and scale 81.88 as Lawless, Statistical Models and Methods for Lifetime Data, has them; scipy agrees."""
    curve = learn_curve([SeenLife(turns, is_retired=True) for turns in BEARINGS], start=START)
    assert (round(curve.shape, 3), round(curve.scale_years, 2)) == (2.102, 81.88)
    shape, _, scale = stats.weibull_min.fit(BEARINGS, floc=0)
    assert (curve.shape, curve.scale_years) == (pytest.approx(shape, rel=1e-4), pytest.approx(scale, rel=1e-4))
    assert (curve.origin, curve.retirements) == (Origin.LEARNED, 23)


@pytest.mark.parametrize("seed", range(5))
def test_what_is_still_in_use_counts_as_in_an_independent_fit(seed):
    """scipy's maximum likelihood with right censoring."""
    draw = random.Random(seed)
    lives = []
    for _ in range(120):
        end, age = draw.weibullvariate(15, 2.5), draw.uniform(1, 25)
        lives.append(SeenLife(min(end, age), is_retired=end <= age))
    curve = learn_curve(lives, start=START)
    gone = [life.age_years for life in lives if life.is_retired]
    left = [life.age_years for life in lives if not life.is_retired]
    shape, _, scale = stats.weibull_min.fit(stats.CensoredData(gone, right=left), floc=0)
    assert (curve.shape, curve.scale_years) == (pytest.approx(shape, rel=1e-3), pytest.approx(scale, rel=1e-3))


def register(*, shape: float, scale: float, years: int, seed: int, begun: float) -> list[SeenLife]:
    """Instruments bought over many years, of which the register holds those in use when it began and later ones."""
    draw = random.Random(seed)
    lives = []
    for _ in range(6_000):
        bought = draw.uniform(begun - 45, begun + years)
        end, today = bought + draw.weibullvariate(scale, shape), begun + years
        if end >= begun:
            seen = max(begun - bought, 0.0)
            lives.append(SeenLife(min(end, today) - bought, is_retired=end <= today, seen_from_years=seen))
    return lives


def test_a_register_begun_late_does_not_promise_long_lives():
    """Drawn from shape 2.4, scale 14, seen for six years; without the age of entry the scale comes out far too long."""
    lives = register(shape=2.4, scale=14.0, years=6, seed=4, begun=100.0)
    curve = learn_curve(lives, start=START)
    assert (curve.shape, curve.scale_years) == (pytest.approx(2.4, rel=0.08), pytest.approx(14, rel=0.04))
    from_new = learn_curve([SeenLife(life.age_years, is_retired=life.is_retired) for life in lives], start=START)
    assert from_new.scale_years > 17


def test_of_few_retirements_only_the_scale_is_learned():
    """At a fixed shape the scale is closed: the sum of age^shape over retirements, to 1/shape."""
    lives = [SeenLife(age, is_retired=age < 18) for age in (9, 11, 12, 16, 17, 18, 20, 22)]
    curve = learn_curve(lives, start=START)
    total = sum(life.age_years**START.shape for life in lives)
    assert curve == SurvivorCurve(
        shape=START.shape,
        scale_years=pytest.approx((total / 5) ** (1 / START.shape)),
        origin=Origin.SCALE_LEARNED,
        retirements=5,
    )


@pytest.mark.parametrize(
    ("retired", "origin"),
    [(4, Origin.LIFE_SPAN), (5, Origin.SCALE_LEARNED), (19, Origin.SCALE_LEARNED), (20, Origin.LEARNED)],
)
def test_how_many_retirements_are_enough(retired, origin):
    lives = [SeenLife(age + 1, is_retired=age < retired) for age in range(30)]
    assert learn_curve(lives, start=START).origin is origin


def test_a_register_in_which_nothing_was_seen_says_nothing():
    lives = [SeenLife(12, is_retired=True, seen_from_years=12)] * 6
    assert learn_curve(lives, start=START) == START


def test_what_was_retired_on_its_first_day_lasted_that_day():
    later = [SeenLife(age, is_retired=True) for age in range(5, 30)]
    first_day, one_day = ([SeenLife(age, is_retired=True), *later] for age in (0, 1 / 365))
    assert learn_curve(first_day, start=START) == learn_curve(one_day, start=START)


def test_lives_that_all_end_at_one_age_are_not_taken_for_fate():
    curve = learn_curve([SeenLife(12, is_retired=True)] * 30, start=START)
    assert (curve.shape, curve.scale_years) == (pytest.approx(20, rel=1e-3), pytest.approx(12))


@pytest.mark.parametrize(
    "life", [SeenLife(5, is_retired=True, seen_from_years=6), SeenLife(5, True, seen_from_years=-1)]
)
def test_a_life_that_ended_before_it_was_seen_is_refused(life):
    with pytest.raises(ValueError, match="seen from an age"):
        learn_curve([life], start=START)


@pytest.mark.parametrize(("low", "high"), [(10, 15), (10, 18), (15, 25), (1, 3)])
def test_half_of_a_kind_goes_within_its_span(low, high):
    """A quarter before, a quarter after."""
    curve = curve_of_span(low, high)
    assert (curve.surviving(low), curve.surviving(high)) == (pytest.approx(0.75), pytest.approx(0.25))
    assert low < curve.mean_years < high
    assert curve.origin is Origin.LIFE_SPAN


@pytest.mark.parametrize(("low", "high"), [(0, 5), (5, 5), (6, 5)])
def test_no_span_is_refused(low, high):
    with pytest.raises(ValueError, match="no span"):
        curve_of_span(low, high)


@given(st.floats(0.5, 8), st.floats(2, 60), st.floats(0, 80), st.floats(0, 20))
def test_the_curve_is_scipy_s(shape, scale, age, years):
    curve, known = SurvivorCurve(shape, scale), stats.weibull_min(shape, scale=scale)
    assert curve.surviving(age) == pytest.approx(known.sf(age), abs=1e-12)
    assert curve.mean_years == pytest.approx(known.mean())
    if known.sf(age) > 1e-200:
        assert curve.wear_out_chance(age_years=age, years=years) == pytest.approx(
            1 - math.exp(known.logsf(age + years) - known.logsf(age)), abs=1e-9
        )


def test_the_mean_life_is_the_area_under_the_curve():
    assert START.mean_years == pytest.approx(integrate.quad(START.surviving, 0, 100)[0])


@given(st.floats(0.01, 0.99))
def test_the_age_of_a_share_is_where_the_curve_has_it(share):
    assert START.surviving(START.age_when(share)) == pytest.approx(share)


def test_the_older_the_sooner():
    chances = [START.wear_out_chance(age_years=age, years=1) for age in (0, 5, 10, 20, 60)]
    assert chances == sorted(chances)
    assert statistics.fmean(chances) < 1
