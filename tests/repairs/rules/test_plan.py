"""Plans of random inspections over every kind of the catalog, judged from outside the planner.

The order rules, what must stay dry, flames and rot are read from the catalog here again; networkx judges the order.
The order of the trade is common practice, no source. Five thousand inspections are walked by ``walk_plans``; the
suite keeps five hundred a bench.
"""

from __future__ import annotations

import random

import networkx as nx
import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Bath, Catalog, Kind, Severity, Wet
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import AttemptFact, BenchFact, Outcome
from repairs.rules.plan import Plan, PlannedStep, may_do, plan_work
from tests.simulation.drawing import draw_inspection, draw_plans, full_bench, specialist_bench

OILS, CLEANERS = {"oil", "lubricate"}, {"clean"}


def benches() -> dict[str, BenchFact]:
    trade = catalog()
    return {
        "basic": bench_profile("basic", catalog=trade),
        "school": bench_profile("school", catalog=trade),
        "everything": full_bench(trade),
        "specialist": specialist_bench(trade),
    }


def ancestors(plan: Plan) -> dict[str, set[str]]:
    """Return for each step all that it waits for."""
    found: dict[str, set[str]] = {}
    for step in plan.steps:
        found[step.key] = set(step.prerequisites).union(*(found[key] for key in step.prerequisites))
    return found


def order_graph(plan: Plan, trade: Catalog, kind: Kind) -> nx.DiGraph:
    """Return every pair of steps that an order rule of the catalog puts in order."""
    graph, waits = nx.DiGraph(), ancestors(plan)
    roles = {"": "", **{part.code: part.role for part in kind.parts}}
    graph.add_nodes_from(step.key for step in plan.steps)
    for rule in trade.order_rules:
        if rule.between:
            continue
        for one in plan.steps:
            for other in plan.steps:
                if one.key == other.key or not set(one.tags) & set(rule.first) or not set(other.tags) & set(rule.then):
                    continue
                if set(other.tags) & set(rule.first) and set(one.tags) & set(rule.then):
                    continue  # both are both kinds of work
                if rule.roles and roles[one.part] not in rule.roles:
                    continue
                if one.rung and one.minutes.high == 0 and other.key in waits[one.key]:
                    continue  # it rides on work that needs the other
                if rule.scope == "part" and one.part and other.part and one.part != other.part:
                    continue
                graph.add_edge(one.key, other.key)
    return graph


def check_order(plan: Plan, trade: Catalog, kind: Kind) -> None:
    place = {step.key: number for number, step in enumerate(plan.steps)}
    graph = order_graph(plan, trade, kind)
    assert nx.is_directed_acyclic_graph(graph)
    assert [edge for edge in graph.edges if place[edge[0]] > place[edge[1]]] == []
    assert plan.conflicts == ()


def check_needs(plan: Plan, kind: Kind, trade: Catalog) -> None:
    """Every need of every step is there, earlier."""
    roles = {part.role for part in kind.parts}
    seen: set[str] = set()
    for step in plan.steps:
        method = trade.methods[step.method]
        rungs = {rung.code: rung for rung in trade.ladders[method.ladder].rungs} if step.rung else {}
        for code in rungs[step.rung].needs if step.rung else method.needs:
            needed = trade.methods[code]
            if needed.ladder or (needed.roles and not roles & set(needed.roles)):
                continue
            assert code in seen, f"{step.key} without {code}"
        seen.add(step.method)


def check_dry(plan: Plan, kind: Kind) -> None:
    parts = {part.code: part for part in kind.parts}
    for step in plan.steps:
        if "wet" not in step.tags:
            continue
        if step.part:
            assert parts[step.part].wet is not Wet.NO, step.key
        else:
            assert any(part.bath is not Bath.NONE for part in kind.parts)
            assert [one.code for one in kind.parts if one.wet is Wet.NO and one.bath is Bath.STAY] == []
            assert set(step.keep_dry) == {one.code for one in kind.parts if one.wet is Wet.NO}


def check_fire(steps: list[PlannedStep], kind: Kind, *, is_oiled: bool = False) -> None:
    """Walk the order: a flame never follows oil without a cleaning between."""
    has_bath = any(part.bath is not Bath.NONE for part in kind.parts)
    for step in steps:
        tags = set(step.tags)
        assert not ("flame" in tags and is_oiled), step.key
        if tags & CLEANERS and not step.part and "quarantine" not in tags and ("wet" in tags or not has_bath):
            is_oiled = False
        if tags & OILS:
            is_oiled = True


def check_rot(plan: Plan, findings: tuple[FindingFact, ...]) -> None:
    rotted = {one.part for one in findings if one.fault == "red_rot"}
    for step in plan.steps:
        assert not (step.part in rotted and "force" in step.tags), step.key
    for ladder in plan.ladders:
        for rung in ladder.ahead:
            assert not (ladder.part in rotted and "force" in rung.entry.tags), rung.step_key


def check_whole(plan: Plan, kind: Kind, findings: tuple[FindingFact, ...]) -> None:
    """Every finding is on a step, on a ladder, sent out or left; the tests come last; set-ups are not torn apart."""
    spoken = {one for step in plan.steps for one in step.findings}
    spoken |= {one.finding for one in plan.send_out} | {one.finding for one in plan.leave}
    assert spoken == set(findings)
    assert plan.steps[-1].method == "play_test"
    if any(part.role == "pad" for part in kind.parts):
        assert plan.steps[-2].method == "leak_test"
    assert len({step.key for step in plan.steps}) == len(plan.steps)
    assert plan.taken.attended_minutes.p50 <= plan.taken.attended_minutes.p80
    assert plan.taken.total_cost.p50 <= plan.taken.total_cost.p80


def walk_plans(bench: BenchFact, *, count: int, seed: int) -> int:
    """Check so many plans; return how many there were. With 5,000 this is the full walk."""
    trade = catalog()
    walked = 0
    for kind, findings, plan in draw_plans(trade, bench=bench, count=count, seed=seed):
        check_order(plan, trade, kind)
        check_needs(plan, kind, trade)
        check_dry(plan, kind)
        check_fire(list(plan.steps), kind)
        check_rot(plan, findings)
        check_whole(plan, kind, findings)
        walked += 1
    return walked


@pytest.mark.parametrize("count", [100, pytest.param(500, marks=pytest.mark.drill)])
@pytest.mark.parametrize("code", list(benches()))
def test_every_rule_of_the_trade_holds_on_random_inspections(code, count):
    assert walk_plans(benches()[code], count=count, seed=2026) == count


def carry_out(
    kind: Kind, findings: tuple[FindingFact, ...], bench: BenchFact, generator: random.Random
) -> tuple[list[PlannedStep], Plan]:
    """Do a job in a random allowed order with random outcomes, planning again after each; return what was done."""
    attempts: list[AttemptFact] = []
    done: list[PlannedStep] = []
    rotted = {one.part for one in findings if one.fault == "red_rot"}
    for _ in range(200):
        plan = plan_work(kind=kind, catalog=catalog(), findings=findings, bench=bench, attempts=attempts)
        ready = [step for step in plan.steps if not step.waits_on]
        if not ready:
            return done, plan
        step = generator.choice(ready)
        assert may_do(plan, step.key) is None
        assert not (step.part in rotted and "force" in step.tags)  # unless the rotted tube has been replaced
        if step.rung:
            outcome = generator.choices(
                [Outcome.FREED, Outcome.STILL_STUCK, Outcome.STOPPED, Outcome.DAMAGED], [3, 8, 1, 1]
            )[0]
        elif step.method in {"play_test", "leak_test"}:
            outcome = Outcome.DONE
        else:
            outcome = generator.choices(
                [Outcome.DONE, Outcome.NOT_RIGHT, Outcome.SKIPPED, Outcome.STOPPED], [8, 1, 1, 1]
            )[0]
        attempts.append(
            AttemptFact(
                step_key=step.key, method=step.method, rung=step.rung, part=step.part, place=step.place, outcome=outcome
            )
        )
        done.append(step)
        mends = catalog().methods[step.method]
        if outcome is Outcome.DONE and "red_rot" in mends.fixes and "watch" not in mends.tags:
            rotted.discard(step.part)
    raise AssertionError(f"the job never ends: {[step.key for step in done[-6:]]}")


@pytest.mark.parametrize("code", ["school", "specialist"])
def test_jobs_done_with_all_kinds_of_luck_end_and_never_bring_a_flame_to_oil(code):
    generator = random.Random(f"luck {code}")
    bench = benches()[code]
    kinds = list(catalog().kinds.values())
    for number in range(60):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=catalog(), generator=generator)
        done, last = carry_out(kind, findings, bench, generator)
        assert last.steps == ()
        assert done[-1].method == "play_test"
        check_history(done, last, kind)


@pytest.mark.parametrize("code", [pytest.param("full", marks=pytest.mark.drill), "specialist"])
def test_stuck_rotted_and_loose_brass_is_never_forced_on_rot_nor_heated_on_oil(code):
    """The hardest brass: every slide stuck, one of them rotted, and a brace to be soldered."""
    trade = catalog()
    bench = specialist_bench(trade) if code == "specialist" else bench_profile("full", catalog=trade)
    generator = random.Random(f"hard brass {code}")
    flames = forces = 0
    for kind in trade.kinds.values():
        stuck = [part for part in kind.parts if "slide_seized" in trade.roles[part.role].faults]
        loose = [part for part in kind.parts if "solder_broken" in trade.roles[part.role].faults]
        if not stuck or not loose:
            continue
        for _ in range(2):
            rotted = generator.choice(stuck)
            findings = (
                *(FindingFact(part.code, "slide_seized", Severity.SEVERE) for part in stuck),
                FindingFact(rotted.code, "red_rot", generator.choice(tuple(Severity))),
                FindingFact(generator.choice(loose).code, "solder_broken", Severity.MODERATE),
            )
            check_rot(plan_work(kind=kind, catalog=trade, findings=findings, bench=bench), findings)
            done, last = carry_out(kind, findings, bench, generator)
            check_history(done, last, kind)
            flames += sum("flame" in step.tags for step in done)
            forces += sum("force" in step.tags for step in done)
    assert flames > 5
    assert forces > 5


def check_history(done: list[PlannedStep], last: Plan, kind: Kind) -> None:
    """A cleaning that was skipped or went wrong took no oil off: only those whose latest outcome is a success count."""
    settled = {one.attempt.step_key for one in last.done if one.attempt.outcome.is_success}
    counted = [step for step in done if step.key in settled or not set(step.tags) & CLEANERS]
    check_fire(counted, kind)


def test_the_same_inspection_gives_the_same_plan():
    first = [plan for _, _, plan in draw_plans(catalog(), bench=benches()["school"], count=30, seed=8)]
    again = [plan for _, _, plan in draw_plans(catalog(), bench=benches()["school"], count=30, seed=8)]
    assert first == again
