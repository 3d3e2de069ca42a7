"""What a plan takes, against drawing it at random."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from inventory.catalog.load import catalog
from repairs.profiles import bench_profile
from repairs.rules.effort import MethodTimes
from repairs.rules.facts import Outcome
from repairs.rules.plan import plan_work
from repairs.rules.plan.estimate import expected_takes
from repairs.rules.plan.values import Bill, RungState
from tests.repairs.rules.small_trade import attempt, finding, plan_of
from tests.simulation.drawing import draw_inspection

DRAWS = 100_000


def draw(generator: np.random.Generator, low: float, likely: float, high: float) -> np.ndarray:
    if high == low:
        return np.full(DRAWS, likely)
    width = high - low
    return low + width * generator.beta(1 + 4 * (likely - low) / width, 1 + 4 * (high - likely) / width, DRAWS)


def test_minutes_of_a_plan_are_those_of_a_hundred_thousand_drawn_jobs():
    """Felts, bath, solder and the slide's ladder drawn rung by rung; the soak is free behind the bath."""
    plan = plan_of(finding("main_slide", "stuck"), finding("brace", "loose"))
    generator = np.random.default_rng(3)
    drawn = np.zeros(DRAWS)
    for step in plan.steps:
        if not step.ladder_key:
            drawn += draw(generator, step.minutes.low, step.minutes.likely, step.minutes.high)
    reached = np.ones(DRAWS, dtype=bool)
    for rung in plan.ladders[0].ahead:
        drawn[reached] += draw(generator, rung.minutes.low, rung.minutes.likely, rung.minutes.high)[reached]
        reached &= generator.random(DRAWS) > rung.p
    minutes = plan.costing.minutes_by_method
    assert sum(minutes.values()) == pytest.approx(plan.mean_minutes)
    chances, paces = zip(*MethodTimes().paces(minutes), strict=True)
    drawn *= generator.choice(paces, size=DRAWS, p=chances)  # the paces of bench, person and methods are not known yet
    assert plan.taken.attended_minutes.mean == pytest.approx(float(drawn.mean()), rel=0.01)
    assert plan.taken.attended_minutes.p50 == pytest.approx(float(np.quantile(drawn, 0.5)), rel=0.01)
    assert plan.taken.attended_minutes.p80 == pytest.approx(float(np.quantile(drawn, 0.8)), rel=0.01)


def test_a_need_that_only_a_later_rung_has_counts_with_its_chance():
    """Felts come out (8.67 min on average) only if hand and oil fail: 0.7 times 0.7 of the time."""
    plan = plan_of(finding("main_slide", "stuck"))
    ladder = plan.ladders[0]
    tries = (
        sum(
            np.prod([1 - before.p for before in ladder.ahead[:at]])
            * (one.minutes.low + 4 * one.minutes.likely + one.minutes.high)
            for at, one in enumerate(ladder.ahead)
        )
        / 6
    )
    felts = (5 + 4 * 8 + 15) / 6
    torch = next(rung for rung in ladder.ahead if rung.entry.code == "torch")
    to_torch = np.prod([1 - rung.p for rung in ladder.ahead[: ladder.ahead.index(torch)]])
    bath = (25 + 4 * 40 + 60) / 6
    play = (5 + 4 * 10 + 20) / 6
    expected = tries + 0.49 * felts + to_torch * bath
    assert expected_takes(ladder.ahead).minutes == pytest.approx(expected)
    assert plan.taken.attended_minutes.mean == pytest.approx(expected + play, rel=0.001)


def test_waits_of_one_phase_run_side_by_side():
    tries = [attempt(f"free_slide:main_slide::{rung}", Outcome.STILL_STUCK) for rung in ("hand", "soak")]
    one = plan_of(finding("main_slide", "stuck"), attempts=tries)
    assert one.ladders[0].ahead[0].wait_h == Decimal(12)
    assert one.taken.waiting_hours.p50 >= 12


def test_an_unused_bench_costs_nothing():
    plan = plan_of()
    assert plan.taken.outside_cost.mean == 0
    assert plan.taken.cost.mean == pytest.approx(30 * ((5 + 40 + 20) / 6) / 60, abs=0.01)


def test_days_are_hands_on_time_and_waiting():
    plan = plan_of(finding("leadpipe", "lime"), bench_hours_per_day=1.0)
    minutes, hours = plan.taken.attended_minutes.mean, plan.taken.waiting_hours.mean
    assert plan.taken.elapsed_days.mean == pytest.approx(minutes / 60 + hours / 24, rel=0.01)


def test_a_ladder_that_may_end_at_a_shop_carries_its_fee():
    plan = plan_of(finding("main_slide", "stuck"))
    shop = plan.ladders[0].ahead[-1]
    assert shop.state is RungState.OUTSIDE
    reach = np.prod([1 - rung.p for rung in plan.ladders[0].ahead[:-1]])
    assert plan.taken.cost.mean > reach * 90
    assert plan.taken.cost.p80 >= plan.taken.cost.p50


def test_what_a_finding_takes_to_fix_is_the_mean_over_all_its_ways():
    """Alone it is the whole plan but for the play test, 10.83 min: far from the first try's $1.00."""
    stuck = replace(finding("main_slide", "stuck"), key="7")
    plan = plan_of(stuck)
    found = plan.costing.to_fix("7")
    play = (5 + 4 * 10 + 20) / 6
    assert found.minutes == pytest.approx(plan.mean_minutes - play)
    parts_of_needs = plan.taken.cost.mean - play / 2 - float(found.amount)  # soap for the bath before a torch
    assert 0 < parts_of_needs < 0.75
    assert found.amount > 20 * plan.steps[0].cost_amount


def test_what_a_step_takes_to_fix_counts_its_own_time_and_parts():
    plan = plan_of(replace(finding("leadpipe", "lime"), key="7"), replace(finding("leadpipe", "rot"), key="8"))
    assert plan.costing.to_fix("7") == Bill(245 / 6, Decimal("21.17"))
    assert plan.costing.to_fix("8") is None  # a shop's


def test_nothing_ahead_takes_nothing():
    assert expected_takes(()) == Bill(minutes=0.0, amount=Decimal(0))


@pytest.mark.parametrize("code", ["trumpet", "clarinet_bb", "trombone", "snare_kit"])
def test_the_mean_that_lists_use_is_the_mean_of_the_distribution(code):
    trade, generator = catalog(), random.Random(f"mean {code}")
    for _ in range(8):
        kind = trade.kinds[code]
        findings = draw_inspection(kind, catalog=trade, generator=generator)
        plan = plan_work(kind=kind, catalog=trade, findings=findings, bench=bench_profile("full", catalog=trade))
        assert plan.mean_minutes == pytest.approx(plan.taken.attended_minutes.mean, rel=0.002, abs=0.1)


def test_two_plans_that_take_the_same_are_the_same():
    one, twin, other = plan_of(), plan_of(), plan_of(finding("brace", "loose"))
    assert one.costing == twin.costing
    assert hash(one.costing) == hash(twin.costing)
    assert one.costing != other.costing
    assert one.costing != one.costing.taken


def test_what_rungs_take_on_average_is_worked_by_hand():
    """Hand 2.17 min at odds 0.3, oil 4.33 min and 12 h at 0.3, soak 5.17 min: reached always, 0.7 and 0.49 of the time.

    The soak needs the felts out, 8.67 min, which nothing else of the plan asks for.
    """
    hand, oil, soak = plan_of(finding("main_slide", "stuck")).ladders[0].ahead[:3]
    assert [one.entry.code for one in (hand, oil, soak)] == ["hand", "oil", "soak"]
    found = expected_takes([hand, oil, soak])
    assert found.minutes == pytest.approx(13 / 6 + 0.7 * 26 / 6 + 0.49 * (31 + 52) / 6)
    costs = [float(one.cost_amount) for one in (hand, oil, soak)]  # $30 an hour, and harm times $60
    assert costs == pytest.approx([13 / 12 + 0.6, 26 / 12 + 0.3, 31 / 12 + 0.6], abs=0.005)
    assert float(found.amount) == pytest.approx(costs[0] + 0.7 * costs[1] + 0.49 * (costs[2] + 4.33), abs=0.005)


def test_the_parts_of_a_step_cost_their_middle():
    """A bath's soap is $0.50 to $1.00, its 40.83 minutes at $30 an hour $20.42, and felts out and play test as well."""
    plan = plan_of(finding("leadpipe", "lime"))
    minutes = (25 + 160 + 60) / 6 + (5 + 32 + 15) / 6 + (5 + 40 + 20) / 6
    assert plan.taken.cost.mean == pytest.approx(minutes / 2 + 0.75, abs=0.02)
    assert plan.taken.total_cost.mean == pytest.approx(plan.taken.cost.mean)
    assert plan.taken.waiting_hours.mean == pytest.approx(2)


def test_what_is_sent_out_is_paid_to_the_shop_and_not_to_the_bench():
    plan = plan_of(finding("leadpipe", "rot"))
    assert plan.taken.outside_cost.mean == pytest.approx((80 + 140) / 2, abs=0.01)
    assert plan.taken.total_cost.mean == pytest.approx(plan.taken.cost.mean + 110, abs=0.01)
