"""Neglected piston brass, drawn at random, worked off with every kind of luck.

What has to hold is the order of the trade (common practice, no source): felts out before water, no cap holds back the
bath but a top cap, no flame before the bath, on oil or beside new soft parts, and nothing tried that is known to fail.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Kind, Severity
from inventory.rules.facts import FindingFact, Owed
from repairs.profiles import bench_profile
from repairs.rules.facts import AttemptFact, BenchFact, Outcome
from repairs.rules.plan import SHOP_TRIP, Plan, PlannedStep, plan_work
from tests.simulation.drawing import full_bench, specialist_bench

TRADE = catalog()
BRASS = [kind for kind in TRADE.kinds.values() if kind.layout == "piston_brass"]
INSTRUMENTS = 60  # at each bench; 300 were walked while the rules were made
FEW = 10
BATH = "soap_bath_brass"
TROUBLES = {
    "cap_stuck": 6,
    "slide_seized": 5,
    "valve_stuck": 3,
    "solder_broken": 2,
    "brace_missing": 1,
    "dent_slide_leg": 2,
    "felt_missing": 3,
    "water_key_leak": 2,
    "mouthpiece_stuck": 1,
    "lime_scale": 1,
    "red_rot": 1,
}
SOFT = {"cork", "felt", "pad"}
FAILED = {Outcome.STILL_STUCK, Outcome.NOT_RIGHT}


def benches(trade: Catalog) -> dict[str, BenchFact]:
    named = {code: bench_profile(code, catalog=trade) for code in ("basic", "school", "full")}
    return named | {"everything": full_bench(trade), "specialist": specialist_bench(trade)}


BENCHES = benches(TRADE)


def spots(kind: Kind) -> list[tuple[str, str, str]]:
    """Return (part, place, fault) of everything in TROUBLES that a kind can have, likelier troubles more often."""
    return [
        (part.code, place, fault)
        for part in kind.parts
        for place in [one.code for one in part.places] or [""]
        for fault, weight in TROUBLES.items()
        if fault in TRADE.roles[part.role].faults
        for _ in range(weight)
    ]


def neglected(generator: random.Random) -> tuple[Kind, tuple[FindingFact, ...]]:
    """Draw a kind and one to nine troubles of it, no part twice with the same fault."""
    kind = generator.choice(BRASS)
    found = {generator.choice(spots(kind)) for _ in range(generator.randint(1, 9))}
    severities = tuple(Severity)
    return kind, tuple(
        FindingFact(part, fault, generator.choice(severities), place) for part, place, fault in sorted(found)
    )


def waits_for(plan: Plan, key: str) -> Iterator[PlannedStep]:
    """Yield every step that comes before one because that one waits for it."""
    stack, seen = [key], set()
    while stack:
        step = plan.step(stack.pop())
        for first in step.prerequisites if step else ():
            if first not in seen:
                seen.add(first)
                stack.append(first)
                before = plan.step(first)
                assert before is not None
                yield before


class Bench:
    """A job carried out, and what is true of the instrument meanwhile."""

    def __init__(self, kind: Kind, findings: tuple[FindingFact, ...], bench: BenchFact, *, is_gift: bool) -> None:
        self.kind, self.findings, self.bench, self.is_gift = kind, findings, bench, is_gift
        self.attempts: list[AttemptFact] = []
        self.is_soft_new = False
        self.put_right: set[FindingFact] = set()
        self.roles = {part.code: part.role for part in kind.parts}

    def plan(self) -> Plan:
        return plan_work(
            kind=self.kind,
            catalog=TRADE,
            findings=self.findings,
            bench=self.bench,
            attempts=self.attempts,
            owed=frozenset(Owed) if self.is_gift else frozenset(),
        )

    def last(self, key: str) -> Outcome | None:
        return next((one.outcome for one in reversed(self.attempts) if one.step_key == key), None)

    def check(self, plan: Plan) -> None:
        assert plan.conflicts == ()
        self.check_water(plan)
        self.check_heat(plan)
        self.check_known(plan)
        self.check_bench(plan)

    def check_water(self, plan: Plan) -> None:
        out = {"remove_felts"} if self.last("remove_felts") in {Outcome.DONE, Outcome.SKIPPED} else set()
        for step in plan.steps:
            before = {one.method for one in waits_for(plan, step.key)} | out
            if self.roles.get(step.part) == "mouthpiece" and not step.rung:  # in a bowl of its own, once it is out
                assert "free_mouthpiece" not in {one.method for one in plan.steps} - before, step.key
            elif "wet" in step.tags:
                assert "remove_felts" in before, step.key
            if step.method == BATH:
                held = {one.key for one in waits_for(plan, BATH) if self.roles.get(one.part) == "valve_cap"}
                assert held == set()

    def check_heat(self, plan: Plan) -> None:
        soft_before = False
        heats = [one for one in plan.ladders if any({"heat", "flame"} & set(rung.entry.tags) for rung in one.ahead)]
        tries = {rung.step_key for one in heats for rung in one.ahead[:1]}
        keys = [step.key for step in plan.steps]
        for step in plan.steps:
            if "flame" in step.tags:
                assert BATH not in keys[keys.index(step.key) :], step.key
                assert not soft_before, step.key
            if step.method == "free_cap" and step.rung == "heat":
                before = {one.method for one in waits_for(plan, step.key)}
                before |= {one.method for one in self.attempts if one.outcome in {Outcome.DONE, Outcome.SKIPPED}}
                assert {"remove_felts", "remove_pistons", "degrease_slide"} <= before
            if SOFT & set(step.tags):
                assert tries <= {one.key for one in waits_for(plan, step.key)}, step.key
            soft_before = soft_before or bool(SOFT & set(step.tags))

    def check_known(self, plan: Plan) -> None:
        """Nothing that failed in this job, or that the finding itself says has failed, is planned."""
        for step in plan.steps:
            assert not step.findings or self.last(step.key) not in FAILED, step.key
            if step.rung:
                ladder = TRADE.ladders[TRADE.methods[step.method].ladder]
                severities = next(rung.severities for rung in ladder.rungs if rung.code == step.rung)
                assert max(one.severity for one in step.findings) in severities, step.key

    def check_bench(self, plan: Plan) -> None:
        for step in plan.steps:
            assert "flame" not in step.tags or self.bench.has_torch, step.key
            assert not step.rung or set(step.tools) <= self.bench.tools, step.key
        assert all(one.why for one in (*plan.send_out, *plan.leave))
        spoken = {one for step in plan.steps for one in step.findings}
        spoken |= {one.finding for one in (*plan.send_out, *plan.leave)}
        assert set(self.findings) - self.put_right <= spoken <= set(self.findings)

    def do(self, step: PlannedStep, outcome: Outcome) -> None:
        if step.method == SHOP_TRIP and outcome is Outcome.DONE:  # the shop has done what was asked of it
            sent = {one.finding for one in self.plan().send_out}
            self.findings = tuple(one for one in self.findings if one not in sent)
        if outcome in {Outcome.DONE, Outcome.FREED}:
            method = TRADE.methods[step.method]
            here = [one for one in self.findings if method.whole or (one.part, one.place) == (step.part, step.place)]
            self.put_right.update(step.findings, (one for one in here if one.fault in method.fixes))
        if "flame" in step.tags:
            assert not self.is_oily(step), step.key
        if {"flame", "heat"} & set(step.tags):
            assert not self.is_soft_new, step.key
        if SOFT & set(step.tags) and outcome is Outcome.DONE:
            self.is_soft_new = True
        self.attempts.append(
            AttemptFact(
                step_key=step.key, method=step.method, rung=step.rung, part=step.part, place=step.place, outcome=outcome
            )
        )

    def is_oily(self, step: PlannedStep) -> bool:
        """Whether oil may be where a step is done: the bath takes all of it off, a cleaned joint is clean."""
        oily = False
        for one in self.attempts:
            method = TRADE.methods[one.method]
            rung = (
                next((rung for rung in TRADE.ladders[method.ladder].rungs if rung.code == one.rung), None)
                if one.rung
                else None
            )
            tags = set(rung.tags if rung else method.tags)
            if one.outcome is not Outcome.SKIPPED and tags & {"oil", "lubricate"}:
                oily = True
            is_here = (method.whole and "wet" in tags) or (one.part, one.place) == (step.part, step.place)
            if one.outcome is Outcome.DONE and "clean" in tags and is_here:
                oily = False
        return oily


@pytest.mark.parametrize("count", [FEW, pytest.param(INSTRUMENTS, marks=pytest.mark.drill)])
@pytest.mark.parametrize("code", list(BENCHES))
def test_neglected_brass_is_put_right_in_an_order_a_tech_would_sign(code, count):
    generator = random.Random(f"neglected brass {code}")
    for _ in range(count):
        kind, findings = neglected(generator)
        work_off(Bench(kind, findings, BENCHES[code], is_gift=generator.random() < 0.5), generator)


def work_off(work: Bench, luck: random.Random) -> None:
    """Do whatever may be done next, with every kind of luck, until nothing is left."""
    for _ in range(120):
        plan = work.plan()
        work.check(plan)
        ready = [step for step in plan.steps if not step.waits_on]
        if not ready:
            assert plan.steps == ()
            return
        step = luck.choice(ready)
        ends = [Outcome.FREED, *[Outcome.STILL_STUCK] * 3, Outcome.STOPPED]
        work.do(step, luck.choice(ends if step.rung else [*[Outcome.DONE] * 6, Outcome.NOT_RIGHT]))
    raise AssertionError("the job never ends")
