"""Times against published PERT examples and against drawing at random."""

from __future__ import annotations

import numpy as np
import pytest

from repairs.rules.effort import (
    Distribution,
    MethodTimes,
    Range,
    TimeRecord,
    certainly,
    climb,
    grid_step,
    learn_times,
    mixture,
    nothing,
    pert_mean,
    spread,
    total,
)

ACTIVITIES = (
    Range(5, 8, 17),
    Range(7, 10, 13),
    Range(3, 5, 7),
    Range(1, 3, 5),
    Range(4, 6, 8),
    Range(3, 3, 3),
    Range(3, 4, 5),
)


def variance(one: Distribution) -> float:
    values = np.arange(len(one.masses)) * one.step
    return float((values - one.mean) ** 2 @ one.masses)


def test_means_are_those_of_the_textbook():
    """A solved PERT problem of a management-science text: means 9, 10, 5, 3, 6, 3, 4."""
    assert [pert_mean(one) for one in ACTIVITIES] == pytest.approx([9, 10, 5, 3, 6, 3, 4])


def test_the_chance_of_a_path_is_that_of_the_textbook():
    """The same problem: path 1-3-5-7 takes 24 on average, and at most 28 with chance .9633 (printed from a table).

    The book adds up variances of ((high - low) / 6)², 5.0 here, under a normal curve. What is shown adds up the
    Beta distributions themselves, which are wider (5.86) and lean to the right: 28 becomes 28.6.
    """
    path = total([spread(ACTIVITIES[at], step=0.05) for at in (0, 2, 4, 6)], step=0.05)
    assert path.mean == pytest.approx(24)
    assert variance(path) == pytest.approx((4 * 8 + 2 * 2 + 2 * 2 + 1 * 1) / 7, rel=0.001)
    assert path.quantile(0.9633) == pytest.approx(28, rel=0.025)


def test_a_path_of_known_times_is_certain():
    path = total([spread(Range(3, 3, 3), step=0.5), spread(Range(1, 1, 1), step=0.5)], step=0.5)
    assert (path.quantile(0.01), path.quantile(0.99)) == (4.0, 4.0)


def test_mean_of_the_critical_path_of_the_encyclopedia_example():
    """Worked PERT example of a public encyclopedia (from memory): a-c-e-g takes 19.50 before rounding."""
    path = [Range(2, 4, 6), Range(4, 5, 7), Range(4, 5, 7), Range(3, 5, 8)]
    assert sum(pert_mean(one) for one in path) == pytest.approx(19.50)


@pytest.mark.parametrize("span", [*ACTIVITIES, Range(5.3, 8.1, 17.2), Range(0, 0, 0), Range(0.2, 0.3, 0.4)], ids=str)
@pytest.mark.parametrize("step", [0.25, 1.0, 4.0])
def test_a_spread_keeps_its_mean_on_any_grid(span, step):
    found = spread(span, step=step)
    assert found.masses.sum() == pytest.approx(1)
    assert found.mean == pytest.approx(pert_mean(span), abs=1e-6)


def test_a_fine_spread_is_the_beta_distribution_of_pert():
    """Variance of the Beta with shape 4: (mean - low)(high - mean) / 7; quantiles against draws of numpy's own Beta."""
    span = Range(5, 8, 17)
    found = spread(span, step=0.05)
    assert variance(found) == pytest.approx((9 - 5) * (17 - 9) / 7, rel=0.01)
    draws = 5 + 12 * np.random.default_rng(11).beta(1 + 4 * 3 / 12, 1 + 4 * 9 / 12, 200_000)
    assert found.quantile(0.5) == pytest.approx(float(np.quantile(draws, 0.5)), abs=0.05)
    assert found.quantile(0.8) == pytest.approx(float(np.quantile(draws, 0.8)), abs=0.05)


def test_a_known_value_keeps_its_mean_between_two_grid_points():
    assert certainly(3.3, step=0.5).mean == pytest.approx(3.3)
    assert certainly(3.5, step=0.5).quantile(0.8) == pytest.approx(3.5)


def test_only_with_a_chance_scales_the_mean():
    assert certainly(10, step=1).only_with(0.3).mean == pytest.approx(3)


def test_a_mixture_weighs_its_parts():
    assert mixture([(0.25, certainly(8, step=1)), (0.75, nothing(step=1))]).mean == pytest.approx(2)


def test_a_ladder_takes_what_drawing_it_takes():
    """Means by the formula of the ladder; P50 and P80 against 200,000 climbs drawn with numpy."""
    spans = [Range(1, 2, 4), Range(3, 5, 8), Range(10, 20, 45)]
    chances = [0.3, 0.25, 0.6]
    found = climb([(p, spread(span, step=0.25)) for p, span in zip(chances, spans, strict=True)], step=0.25)
    generator = np.random.default_rng(5)
    drawn = np.zeros(200_000)
    reached = np.ones(200_000, dtype=bool)
    for p, span in zip(chances, spans, strict=True):
        width = span.high - span.low
        alpha, beta = 1 + 4 * (span.likely - span.low) / width, 1 + 4 * (span.high - span.likely) / width
        drawn[reached] += (span.low + width * generator.beta(alpha, beta, 200_000))[reached]
        reached &= generator.random(200_000) > p
    assert found.mean == pytest.approx(2.1667 + 0.7 * 5.1667 + 0.7 * 0.75 * 22.5, abs=0.01)
    assert found.quantile(0.5) == pytest.approx(float(np.quantile(drawn, 0.5)), abs=0.15)
    assert found.quantile(0.8) == pytest.approx(float(np.quantile(drawn, 0.8)), abs=0.4)
    assert float(found.masses[:41].sum()) == pytest.approx(float((drawn <= 10).mean()), abs=0.01)


def test_a_sum_does_not_depend_on_the_order_of_its_parts():
    parts = [spread(one, step=0.5) for one in ACTIVITIES]
    forward, backward = total(parts, step=0.5), total(reversed(parts), step=0.5)
    assert forward.mean == pytest.approx(sum(pert_mean(one) for one in ACTIVITIES))
    assert forward.quantile(0.8) == pytest.approx(backward.quantile(0.8))


def test_quantiles_of_a_coin_are_its_sides():
    coin = Distribution(step=10, masses=np.array([0.4, 0.0, 0.6]))
    assert (coin.quantile(0.3), coin.quantile(0.8)) == (0, 20)


def test_a_grid_stays_small():
    assert grid_step(largest=100, finest=0.25) == 0.25
    assert 20_000 / grid_step(largest=20_000, finest=0.25) <= 1500


def test_records_pull_a_method_to_the_bench_s_own_pace():
    times = learn_times([TimeRecord(method="bath", minutes=60, likely=40)] * 4)
    found = times.learned("bath", Range(25, 40, 60))
    start = pert_mean(Range(25, 40, 60))
    assert pert_mean(found) == pytest.approx(start * (60 / start) ** (0.5 + 0.5 * 0.5))
    assert found.low < found.likely < found.high


def test_a_method_nobody_timed_borrows_the_pace_of_the_bench():
    times = learn_times([TimeRecord(method="bath", minutes=60, likely=40)] * 4)
    found = times.learned("oil", Range(2, 4, 8))
    assert found.likely == pytest.approx(4 * (1.5 * 4 / pert_mean(Range(2, 4, 8))) ** 0.5)


def test_a_bench_that_works_as_estimated_learns_nothing_new():
    generator = np.random.default_rng(9)
    span = Range(5, 8, 17)
    drawn = 5 + 12 * generator.beta(1 + 4 * 3 / 12, 1 + 4 * 9 / 12, 5000)
    times = learn_times([TimeRecord(method="bath", minutes=float(minutes), likely=8) for minutes in drawn])
    assert pert_mean(times.learned("bath", span)) == pytest.approx(9, rel=0.05)


def test_without_records_nothing_moves():
    span = Range(2, 4, 8)
    assert learn_times([]).learned("oil", span) == span
    assert learn_times([TimeRecord(method="oil", minutes=0, likely=4)]).learned("oil", span) == span


def test_equal_times_make_no_promise_of_equal_times():
    times = learn_times([TimeRecord(method="bath", minutes=40, likely=40)] * 100)
    found = times.learned("bath", Range(25, 40, 60))
    assert found.high - found.likely >= 0.3 * 20


def log_spread(times: MethodTimes, minutes: dict[str, float]) -> float:
    """Return the sd of the log of the pace, once mean and chances are seen to be those of a factor of mean 1."""
    paces = times.paces(minutes)
    assert sum(chance for chance, _ in paces) == pytest.approx(1)
    assert sum(chance * factor for chance, factor in paces) == pytest.approx(1)
    middle = sum(chance * np.log(factor) for chance, factor in paces)
    return sum(chance * (np.log(factor) - middle) ** 2 for chance, factor in paces) ** 0.5


def timed(count: int, *people: str) -> MethodTimes:
    return learn_times([
        TimeRecord(method="bath", minutes=60, likely=40, person=people[number % len(people)]) for number in range(count)
    ])  # fmt: skip


def test_the_unknown_paces_of_bench_person_and_method_add_up():
    """Variances of logs: bench 0.28, person 0.15, drift 0.1, and 0.3 of a method by the square of its share."""
    rest = 0.28**2 + 0.15**2 + 0.1**2
    assert log_spread(MethodTimes(), {"bath": 40}) == pytest.approx((rest + 0.3**2) ** 0.5)
    assert log_spread(MethodTimes(), {"bath": 40, "oil": 40}) == pytest.approx((rest + 2 * 0.15**2) ** 0.5)
    assert log_spread(MethodTimes(), {}) == pytest.approx(rest**0.5)


def test_records_narrow_the_pace_of_the_bench_and_of_their_own_method():
    """96 records leave 4 parts in a hundred of a variance; one who does everything is the bench; drift remains."""
    times = timed(96, "first")
    assert log_spread(times, {"bath": 40}) == pytest.approx((0.04 * (0.28**2 + 0.3**2) + 0.1**2) ** 0.5)
    assert log_spread(times, {"oil": 40}) == pytest.approx((0.04 * 0.28**2 + 0.3**2 + 0.1**2) ** 0.5)


def test_people_who_work_at_different_paces_keep_a_promise_wide():
    alike = timed(96, "first", "second")
    assert alike.person_spread == pytest.approx((4 / 52 * 0.15**2) ** 0.5)
    quick = [TimeRecord(method="bath", minutes=30, likely=40, person="first")] * 48
    slow = [TimeRecord(method="bath", minutes=60, likely=40, person="second")] * 48
    beyond = 48 / 52 * np.log(2) / 2
    assert learn_times(quick + slow).person_spread == pytest.approx((beyond**2 + 4 / 52 * 0.15**2) ** 0.5)
    assert timed(96, "first").person_spread == 0.0


def test_a_quantile_spreads_each_mass_half_a_step_to_both_sides():
    """Four equal masses at 0, 10, 20 and 30: that of 10 lies between 5 and 15, so half of all lies under 15."""
    even = Distribution(step=10, masses=np.full(4, 0.25))
    assert [even.quantile(share) for share in (0.375, 0.5, 0.8)] == pytest.approx([10, 15, 27])
    assert (even.estimate.p50, even.estimate.p80, even.estimate.mean) == pytest.approx((15, 27, 15))


def test_another_grid_keeps_mean_and_chances():
    """A third each of 0, 3 and 6 on a grid of 4: 3 is a quarter 0 and three quarters 4, 6 half 4 and half 8."""
    found = Distribution(step=3, masses=np.full(3, 1 / 3)).on_grid(4)
    assert list(found.masses) == pytest.approx([1.25 / 3, 1.25 / 3, 0.5 / 3])
    assert found.mean == pytest.approx(3)
