"""Drawn benches keep their own truth, and the planner is measured on them."""

from __future__ import annotations

import math
import random
import statistics

import pytest

from inventory.catalog.load import catalog
from tests.simulation.drawing import draw_inspection, full_bench
from tests.simulation.shops import (
    FIXED,
    KNOWING,
    LEARNED,
    STOPPING,
    TrueBench,
    calibrate,
    order_gain,
)


def test_an_inspection_names_only_faults_that_its_parts_can_have():
    trade = catalog()
    generator = random.Random(1)
    for kind in trade.kinds.values():
        for finding in draw_inspection(kind, catalog=trade, generator=generator):
            assert finding.fault in trade.roles[kind.part(finding.part).role].faults


def test_drawn_times_go_by_bench_person_and_method():
    """Steps of one person at one method keep a mean of their own: 9 minutes by the catalog times their pace."""
    truth = TrueBench(catalog(), generator=random.Random(2))
    truth.begin_job()
    drawn = [truth.minutes("bath", (5, 8, 17)) for _ in range(20_000)]
    own = truth.paces["bath", ""] + truth.paces["bath", truth.person]
    pace = truth.pace + truth.people[truth.person] + own
    assert statistics.mean(drawn) == pytest.approx(9 * math.exp(pace), rel=0.02)
    assert statistics.stdev(math.log(minutes) for minutes in drawn) == pytest.approx(0.35, abs=0.01)


def test_a_bench_keeps_its_true_chance():
    trade = catalog()
    truth = TrueBench(trade, generator=random.Random(3))
    ladder = next(iter(trade.ladders.values()))
    assert truth.p(ladder, ladder.rungs[0]) == truth.p(ladder, ladder.rungs[0])


def test_a_bench_that_learns_keeps_its_promises():
    """The truth falls under P50 about half the time and under P80 about four times in five, within sampling error."""
    found = calibrate(catalog(), bench=full_bench(catalog()), benches=4, jobs=45)["late"]
    assert found.jobs == 120
    assert found.under_p50 == pytest.approx(0.5, abs=0.14)
    assert found.under_p80 == pytest.approx(0.8, abs=0.11)


def test_learning_never_beats_knowing_and_does_no_harm():
    found = order_gain(catalog(), shops=12, tries=80)
    assert found[KNOWING].amount <= found[LEARNED].amount
    assert found[KNOWING].amount <= found[STOPPING].amount
    assert found[LEARNED].amount <= found[FIXED].amount * 1.01
    assert found[FIXED].saved_amount == (0.0, 0.0, 0.0)
    mean, low, high = found[LEARNED].saved_amount
    assert low <= mean <= high
