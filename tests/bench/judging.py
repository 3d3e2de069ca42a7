"""The rules: what can be played, from failed notes back to the part, the plan, the day; and how right the guesses are."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from statistics import median
from time import perf_counter

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog, load_catalog
from inventory.catalog.schema import Kind
from inventory.rules.diagnose import survey
from inventory.rules.playing import playing
from inventory.rules.verdict import judge
from inventory.services.registering import options_of
from repairs.profiles import bench_profile
from repairs.rules.day import plan_bench
from repairs.rules.effort import SetUp
from repairs.rules.ladder import RungChoice, best_order
from repairs.rules.open_jobs import OpenJob, open_job
from repairs.rules.plan import plan_work
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.planning import time_plans
from tests.bench.sections import Run
from tests.simulation.drawing import draw_inspection, full_bench
from tests.simulation.fault_tally import RankTally, rank_tally


def section(run: Run, *, seed: int = 1) -> Iterator[Figure]:
    runs = run.runs
    taken = times(load_catalog, runs=max(runs // 5, 3), warm=1)
    yield Figure("the catalog, read and checked at start-up", middle(taken), p95(taken), most_ms=500)
    yield from playing_times(runs=runs, seed=seed)
    for code in ("school", "full"):
        timing = time_plans(catalog(), bench=bench_profile(code, catalog=catalog()), count=runs * 6)
        note = f"{runs * 6} random inspections, slowest {timing.most_ms:.0f} ms"
        yield Figure(f"one plan, {code} bench", timing.median_ms, timing.p95_ms, most_ms=20, note=note)
    yield orders(runs=runs, seed=seed)
    yield from days(seed=seed)


def orders(*, runs: int, seed: int) -> Figure:
    """Twelve rungs, the most that are solved exactly, each one after an earlier one with a chance of one in ten."""
    generator, taken = random.Random(seed), []
    for _ in range(runs):
        names = [f"r{number}" for number in range(12)]
        rungs = [
            RungChoice(
                name,
                generator.uniform(0, 60),
                generator.uniform(0.01, 1),
                tuple(before for before in names[:number] if generator.random() < 0.1),
            )
            for number, name in enumerate(names)
        ]
        started = perf_counter()
        best_order(rungs)
        taken.append((perf_counter() - started) * 1000)
    return Figure("the cheapest order of 12 rungs, exact", middle(taken), p95(taken), most_ms=1000)


def playing_times(*, runs: int, seed: int) -> Iterator[Figure]:
    """One instrument of each kind in turn, with random findings: the notes alone, and the whole verdict."""
    trade, generator = catalog(), random.Random(seed)
    kinds = list(trade.kinds.values())
    notes: list[float] = []
    verdicts: list[float] = []
    slowest = (0.0, "")
    for kind in kinds:
        chart_of(kind, {})  # read once and kept, as a server keeps it
    for number in range(max(runs, 2) * len(kinds) // 2):
        kind = kinds[number % len(kinds)]
        options = options_of(kind_code=kind.code, given={})
        there = {part.code for part in kind.parts_for(options)}
        findings = [
            one for one in draw_inspection(kind, catalog=trade, generator=generator) if one.part in there
        ]  # fmt: skip
        started = perf_counter()
        playing(
            kind=kind, chart=chart_of(kind, options), options=options, findings=findings, faults=trade.faults,
            roles=trade.roles,
        )  # fmt: skip
        between = perf_counter()
        judge(
            kind=kind, findings=findings, faults=trade.faults, roles=trade.roles, chart=chart_of(kind, options),
            options=options, settings=trade.settings,
        )  # fmt: skip
        notes.append((between - started) * 1000)
        verdicts.append((perf_counter() - between) * 1000)
        slowest = max(slowest, (notes[-1], kind.name))
    note = f"{len(notes)} random inspections over {len(kinds)} kinds, slowest {slowest[0]:.1f} ms ({slowest[1]})"
    yield Figure("what one instrument can play", middle(notes), p95(notes), most_ms=5, note=note)
    yield Figure("its verdict, effects and limits", middle(verdicts), p95(verdicts))


def days(*, seed: int, count: int = 500) -> Iterator[Figure]:
    trade, generator = catalog(), random.Random(seed)
    kinds, today = list(trade.kinds.values()), date(2026, 8, 3)
    bench = full_bench(trade)
    jobs: list[OpenJob] = []
    for number in range(count):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=trade, generator=generator)[:4]
        plan = plan_work(kind=kind, catalog=trade, findings=findings, bench=bench)
        jobs.append(
            open_job(
                key=str(number),
                name=kind.name,
                plan=plan,
                students=generator.randrange(4),
                due_on=today + timedelta(days=number % 60) if number % 2 else None,
            )
        )
    taken = []
    for _ in range(5):
        started = perf_counter()
        laid = plan_bench(jobs, today=today, hours=6, set_up=SetUp.of(trade.settings)).day
        taken.append((perf_counter() - started) * 1000)
    note = f"{len(laid.entries)} steps laid out, {laid.minutes_saved:.0f} min saved by doing alike work together"
    yield Figure(f"day plan of 6 hours for {count} open jobs", middle(taken), p95(taken), most_ms=100, note=note)


def tally_of(kind: Kind, *, tells_weak: bool = False) -> RankTally:
    trade = catalog()
    options = options_of(kind_code=kind.code, given={})
    return rank_tally(
        kind=kind, chart=chart_of(kind, options), options=options, faults=trade.faults, roles=trade.roles,
        tells_weak=tells_weak,
    )  # fmt: skip


def silent_words(kinds: int | None) -> str:
    """Name the faults that predict nothing, the most frequent first."""
    trade, counted = catalog(), Counter[str]()
    for kind in list(trade.kinds.values())[:kinds]:
        options = options_of(kind_code=kind.code, given={})
        chart = chart_of(kind, options)
        found = survey(kind, "first_year", chart=chart, options=options, faults=trade.faults, roles=trade.roles)
        counted.update(trade.fault_name(one.fault) for one in found.silent)
    return ", ".join(f"{name} {count}" for name, count in counted.most_common())


def diagnosis(*, kinds: int | None = None) -> Iterator[str]:
    """How often the diagnosis puts the true fault first, every single fault of every kind in turn."""
    total, told, shares, ceilings = RankTally(), RankTally(), {}, {}
    for kind in list(catalog().kinds.values())[:kinds]:
        tally = tally_of(kind)
        total += tally
        told += tally_of(kind, tells_weak=True)
        if tally.total:
            shares[kind.name] = tally.first_spot / tally.total
            ceilings[kind.name] = tally.most_first_spot / tally.total
    yield (
        f"{total.total} single faults that spoil a first-year note, {len(shares)} kinds: listed "
        f"{total.listed / total.total:.1%}, on rank 1 (alone or with what the notes cannot tell from it) "
        f"{total.shares_first / total.total:.1%}"
    )
    yield f"{total.silent} more, each at its place, spoil no first-year note and cannot be told by playing: {silent_words(kinds)}"
    yield (
        f"the first named: right place {total.first_spot / total.total:.1%} (no order could reach more than "
        f"{total.most_first_spot / total.total:.1%}: many faults spoil the very same notes), right fault too "
        f"{total.first / total.total:.1%}"
    )
    yield (
        f"with weak notes told from dead ones: right place {told.first_spot / told.total:.1%} of at most "
        f"{told.most_first_spot / told.total:.1%}; likely faults counting more: "
        f"{told.likely_first_spot / told.likely:.1%}"
    )
    worst, best = min(shares, key=shares.__getitem__), max(shares, key=shares.__getitem__)
    yield (
        f"right place first, by kind: median {median(shares.values()):.0%}, least {shares[worst]:.0%} of at most "
        f"{ceilings[worst]:.0%} ({worst.lower()}), most {shares[best]:.0%} ({best.lower()})"
    )
