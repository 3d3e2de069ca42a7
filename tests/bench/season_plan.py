"""The season plan of a large district: thousands of instruments that differ, every budget tight, with gap and time."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from time import perf_counter, process_time

from desk.rules.season_plan import Action, Budgets, Candidate, Goal, Option, Purchase, Season, Seats, plan_season
from tests.bench.assigning import BAND, LEVELS
from tests.bench.figures import Figure
from tests.bench.sections import Run

SECONDS, TOLERATED, MOST_GAP = 60.0, 0.001, 0.005
BENCHES = 5


def district(*, candidates: int, seed: int = 1, goal: Goal = Goal.PRIORITY) -> Season:
    """Draw a district: three instruments in ten are ready, one in ten for beginners alone; money for a third."""
    generator = random.Random(seed)
    kinds, shares = list(BAND), list(BAND.values())
    schools = max(candidates // 100, 1)
    seats = []
    for school in range(schools):
        for priority, level in enumerate(reversed(LEVELS), start=1):
            asked = generator.choices(kinds, shares, k=candidates * 7 // 10 // schools // len(LEVELS))
            seats += [
                Seats(f"{school:03} {priority} {kind}", kind, count, f"{school}", level=level, priority=priority)
                for kind in kinds
                if (count := asked.count(kind))
            ]
    horns = [_horn(number, generator, school=f"{generator.randrange(schools)}") for number in range(candidates)]
    purchases = [Purchase(f"new {kind}", kind, Decimal(generator.randrange(300, 4000)), limit=20) for kind in kinds]
    budgets = Budgets(
        {f"b{number}": Decimal(candidates * 9 // 200) for number in range(BENCHES)},
        Decimal(candidates * 3),
        Decimal(candidates * 9),
        Decimal(candidates * 6),
    )
    return Season(tuple(seats), tuple(horns), tuple(purchases), budgets, goal)


def _horn(number: int, generator: random.Random, *, school: str) -> Candidate:
    kind = generator.choices(list(BAND), list(BAND.values()))[0]
    options = []
    if (drawn := generator.random()) >= 0.3:
        if generator.random() < 0.8:
            hours, parts = Decimal(generator.randrange(20, 1200)) / 100, Decimal(generator.randrange(8000)) / 100
            options.append(Option(Action.REPAIR, f"b{generator.randrange(BENCHES)}", hours, parts))
        if generator.random() < 0.7:
            options.append(Option(Action.SEND_OUT, shop_amount=Decimal(generator.randrange(6000, 60000)) / 100))
    levels = frozenset({"first_year"}) if drawn >= 0.3 else None
    return Candidate(f"h{number:05}", kind, school, is_ready=drawn < 0.4, levels=levels, options=tuple(options))


def section(run: Run) -> Iterator[Figure | str]:
    widest = 0.0
    for candidates, goal, seed in (
        (500, Goal.PRIORITY, 1),
        (5000, Goal.PRIORITY, 1),
        (5000, Goal.PRIORITY, 2),
        (5000, Goal.MOST, 1),
    ):
        if run.is_quick and candidates > 500:
            continue
        season = district(candidates=candidates, seed=seed, goal=goal)
        started, own = perf_counter(), process_time()
        plan = plan_season(season, seconds=SECONDS, tolerated=TOLERATED)
        taken, own = (perf_counter() - started) * 1000, process_time() - own
        widest = max(widest, plan.gap)
        note = f"{plan.seated:,} of {plan.wanted:,} seats, ${plan.cost_amount:,}, gap {plan.gap:.3%}, processor {own:.0f} s"
        name = f"season plan of {candidates:,} instruments, goal {goal.value}, district {seed}"
        row = {"gap": plan.gap, "cpu_ms": own * 1000, "seated": plan.seated, "wanted": plan.wanted}
        yield Figure(name, taken, taken, most_ms=180_000, note=note, row=row)
    if widest >= MOST_GAP:
        raise AssertionError(f"a gap of {widest:.2%} is more than {MOST_GAP:.1%}")
