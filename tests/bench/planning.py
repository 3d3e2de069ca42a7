"""Measures the planner: ``python -m tests.bench.planning`` prints time per plan, calibration, and what learning saves.

Figures depend on the machine (times) and on the seed (the rest); the seed is fixed.
"""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from time import perf_counter

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog
from repairs.profiles import bench_profile
from repairs.rules.facts import BenchFact
from repairs.rules.plan import plan_work
from tests.simulation.days import draw_day, gap_of, late_in_vain
from tests.simulation.drawing import draw_inspection
from tests.simulation.shops import calibrate, order_gain


@dataclass(frozen=True, slots=True)
class Timing:
    """Milliseconds for one plan."""

    median_ms: float
    p95_ms: float
    most_ms: float


def time_plans(trade: Catalog, *, bench: BenchFact, count: int = 300, seed: int = 1) -> Timing:
    """Return how long plans of random inspections take, one after another in this process."""
    generator = random.Random(seed)
    kinds = list(trade.kinds.values())
    taken = []
    for number in range(count):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=trade, generator=generator)
        started = perf_counter()
        plan = plan_work(kind=kind, catalog=trade, findings=findings, bench=bench)
        assert plan.taken.total_cost.p80 >= plan.taken.total_cost.p50  # worked out when asked for
        taken.append((perf_counter() - started) * 1000.0)
    taken.sort()
    return Timing(median_ms=statistics.median(taken), p95_ms=taken[math.ceil(0.95 * len(taken)) - 1], most_ms=taken[-1])


def time_lines(trade: Catalog) -> Iterator[str]:
    for code in ("school", "full"):
        timing = time_plans(trade, bench=bench_profile(code, catalog=trade))
        yield (
            f"one plan, {code} bench: median {timing.median_ms:.1f} ms, 95th percentile {timing.p95_ms:.1f} ms, "
            f"most {timing.most_ms:.1f} ms (300 random inspections)"
        )


def day_lines(*, quick: bool = False) -> Iterator[str]:
    """How far planned days are from the best of all lines of work, and how many jobs are late that need not be."""
    tried, drawn = (20, 100) if quick else (200, 1000)
    for most in (2, 3):
        count = tried if most == 2 else tried // 8
        gaps = [
            gap_of(jobs, hours=hours)
            for jobs, hours in (draw_day(random.Random(f"gap {number}"), most_steps=most) for number in range(count))
        ]
        shares = [gap.share for gap in gaps]
        yield (
            f"the planned day against every line of work, 6 to 8 jobs of up to {most} steps: students wait "
            f"{statistics.mean(shares):.2%} longer on average, {max(shares):.1%} at worst, "
            f"{sum(gap.late for gap in gaps)} jobs late that need not be ({count} days; aims 1%, 10%, none)"
        )
    days = (draw_day(random.Random(f"dates {number}"), most_steps=2) for number in range(drawn))
    late = sum(late_in_vain(jobs, hours=hours) for jobs, hours in days)
    yield f"dates on {drawn:,} more days: {late} jobs late that need not be"


def learning_lines(trade: Catalog, *, quick: bool = False) -> Iterator[str]:
    """How often the truth stays under what was promised, and what the learned order saves; simulated shops."""
    benches, seeds, shops = (4, 2, 8) if quick else (40, 8, 40)
    for learn in (False, True):
        name = "learning" if learn else "starting estimates"
        found = {
            seed: calibrate(
                trade, bench=bench_profile("full", catalog=trade), benches=benches, jobs=25, learn=learn, seed=seed
            )
            for seed in range(1, seeds + 1)
        }
        for when in ("early", "late"):
            each = [by_time[when] for by_time in found.values()]
            jobs = sum(hits.jobs for hits in each)
            half, most = (
                sum(share * hits.jobs for share, hits in zip(shares, each, strict=True)) / jobs
                for shares in ([hits.under_p50 for hits in each], [hits.under_p80 for hits in each])
            )
            yield (
                f"attended minutes, {name}, {when} jobs: under P50 {half:.1%}, under P80 {most:.1%} ({jobs} jobs; aim 78 to "
                f"82%); P80 by seed: {', '.join(f'{hits.under_p80:.0%}' for hits in each)}"
            )
    for name, policy in order_gain(trade, shops=shops).items():
        time_mean, time_low, time_high = policy.saved_minutes
        cost_mean, cost_low, cost_high = policy.saved_amount
        yield (
            f"a stuck part, {name}: {policy.minutes:.1f} min, ${policy.amount:.2f}; saved against gentlest first "
            f"{time_mean:.1%} of the time ({time_low:.1%} to {time_high:.1%}) and {cost_mean:.1%} of the cost "
            f"({cost_low:.1%} to {cost_high:.1%}; 10th to 90th percentile of {shops} simulated shops)"
        )


def main() -> None:
    trade = catalog()
    for line in chain(time_lines(trade), day_lines(), learning_lines(trade)):
        print(line, flush=True)


if __name__ == "__main__":
    main()
