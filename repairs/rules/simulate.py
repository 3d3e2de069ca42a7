"""Inspections and benches drawn at random, to measure the planner with: no result of a page comes from here."""

# ruff: noqa: S311 - drawn to measure with, not to keep a secret

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.catalog.schema import Catalog, Kind, Ladder, Rung, Severity, Skill
from inventory.rules.facts import FindingFact
from repairs.rules.effort import MethodTimes, TimeRecord, learn_times
from repairs.rules.facts import BenchFact
from repairs.rules.ladder import RungChoice, best_order
from repairs.rules.odds import Odds, Try, tally_tries
from repairs.rules.plan import Plan, RungState, plan_work

MOST_FINDINGS = 12
SAME_PART = 0.4  # chance that the next finding is at the part of the last one
TRUE_WEIGHT = 6.0  # how many tries the starting guess is worth as a guess of a shop's true chance
PACE_SPREAD = 0.25  # sd of log(true pace of a method at a bench)
BENCH_SPREAD = 0.2  # sd of log(true pace of a whole bench)


def draw_inspection(kind: Kind, *, catalog: Catalog, generator: random.Random) -> tuple[FindingFact, ...]:
    """Draw one to twelve findings at a kind's parts and places, each a fault its role can have; troubles flock together."""
    parts = [part for part in kind.parts if catalog.roles[part.role].faults]
    found: list[FindingFact] = []
    for _ in range(generator.randint(1, MOST_FINDINGS)):
        part = kind.part(found[-1].part) if found and generator.random() < SAME_PART else generator.choice(parts)
        place = generator.choice(part.places).code if part.places and generator.random() < 0.8 else ""
        found.append(
            FindingFact(
                part=part.code,
                fault=generator.choice(catalog.roles[part.role].faults),
                severity=generator.choice(tuple(Severity)),
                place=place,
            )
        )
    return tuple(dict.fromkeys(found))


def full_bench(catalog: Catalog) -> BenchFact:
    """Return a bench with every tool, trained for everything but what only a specialist does."""
    return BenchFact(
        code="everything",
        tools=frozenset(catalog.tools),
        methods=frozenset(
            code for code, method in catalog.methods.items() if method.skill is Skill.ADVANCED or method.ladder
        ),
        has_torch=True,
        has_chemicals=True,
        rate_amount=Decimal(30),
    )


def specialist_bench(catalog: Catalog) -> BenchFact:
    """Return a bench that can and may do everything, specialist rungs among it: the hardest case for the order."""
    rungs = (f"{ladder.code}.{rung.code}" for ladder in catalog.ladders.values() for rung in ladder.rungs)
    tools = {tool for method in catalog.methods.values() for tool in method.tools}
    tools |= {tool for ladder in catalog.ladders.values() for rung in ladder.rungs for tool in rung.tools}
    return BenchFact(
        code="specialist",
        tools=frozenset(catalog.tools) | tools,
        methods=frozenset((*catalog.methods, *rungs)),
        has_torch=True,
        has_chemicals=True,
        rate_amount=Decimal(60),
    )


def draw_plans(
    catalog: Catalog, *, bench: BenchFact, count: int, seed: int
) -> Iterator[tuple[Kind, tuple[FindingFact, ...], Plan]]:
    """Yield plans of random inspections, the kinds in turn."""
    generator = random.Random(seed)
    kinds = list(catalog.kinds.values())
    for number in range(count):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=catalog, generator=generator)
        yield kind, findings, plan_work(kind=kind, catalog=catalog, findings=findings, bench=bench)


class TrueBench:
    """A bench whose true paces and odds nobody knows: drawn once around the starting guesses.

    The bench as a whole is faster or slower, each method again by itself; each try then scatters over its span. The
    true chance of a rung is drawn from a Beta around the starting guess.
    """

    def __init__(self, catalog: Catalog, *, generator: random.Random) -> None:
        self.catalog = catalog
        self.generator = generator
        self.pace = math.exp(generator.gauss(0.0, BENCH_SPREAD))
        self.paces: dict[str, float] = {}
        self.odds: dict[tuple[str, str], float] = {}

    def minutes(self, name: str, span: tuple[float, float, float]) -> float:
        """Draw what a method (or ladder.rung) takes this time."""
        if name not in self.paces:
            self.paces[name] = self.pace * math.exp(self.generator.gauss(0.0, PACE_SPREAD))
        return self.paces[name] * draw_pert(span, generator=self.generator)

    def p(self, ladder: Ladder, rung: Rung) -> float:
        key = (ladder.code, rung.code)
        if key not in self.odds:
            guess = min(max(rung.p, 0.02), 0.98)
            self.odds[key] = self.generator.betavariate(TRUE_WEIGHT * guess, TRUE_WEIGHT * (1.0 - guess))
        return self.odds[key]


def draw_pert(span: tuple[float, float, float], *, generator: random.Random) -> float:
    low, likely, high = span
    if high <= low:
        return likely
    alpha, beta = 1.0 + 4.0 * (likely - low) / (high - low), 1.0 + 4.0 * (high - likely) / (high - low)
    return low + (high - low) * generator.betavariate(alpha, beta)


@dataclass(slots=True)
class Ledger:
    """What a simulated bench has recorded: times and tries."""

    times: list[TimeRecord]
    tries: list[Try]


def do_job(plan: Plan, *, bench: TrueBench, kind: Kind, ledger: Ledger) -> float:
    """Carry out a plan to its end on a true bench; return the attended minutes it took. Ladders end freed or at the shop.

    What only a later rung needs is done when it is reached, once for the whole job.
    """
    catalog = bench.catalog
    total = 0.0
    done: set[str] = set()
    for step in plan.steps:
        if step.ladder_key:
            continue
        total += _do_method(step.method, bench=bench, ledger=ledger)
        done.add(step.method)
    for planned in plan.ladders:
        ladder = catalog.ladders[planned.code]
        rungs = {rung.code: rung for rung in ladder.rungs}
        for failed, rung in enumerate(planned.ahead):
            if rung.state is RungState.OUTSIDE:
                break
            for code in _needed(rungs[rung.code].needs, kind=kind, catalog=catalog):
                if code not in done:
                    total += _do_method(code, bench=bench, ledger=ledger)
                    done.add(code)
            if not rung.is_free:
                name = f"{ladder.code}.{rung.code}"
                low, likely, high = rungs[rung.code].minutes
                minutes = bench.minutes(name, (low, likely, high))
                ledger.times.append(TimeRecord(method=name, minutes=minutes, likely=likely))
                total += minutes
            is_freed = bench.generator.random() < bench.p(ladder, rungs[rung.code])
            role = kind.part(planned.part).role
            ledger.tries.append(Try(ladder.code, rung.code, kind.code, role, is_freed=is_freed, failed_before=failed))
            if is_freed:
                break
    return total


def _do_method(code: str, *, bench: TrueBench, ledger: Ledger) -> float:
    low, likely, high = bench.catalog.methods[code].minutes
    minutes = bench.minutes(code, (low, likely, high))
    ledger.times.append(TimeRecord(method=code, minutes=minutes, likely=likely))
    return minutes


def _needed(codes: Sequence[str], *, kind: Kind, catalog: Catalog) -> Iterator[str]:
    roles = {part.role for part in kind.parts}
    for code in codes:
        method = catalog.methods[code]
        if not method.roles or roles.intersection(method.roles):
            yield from _needed(method.needs, kind=kind, catalog=catalog)
            yield code


@dataclass(frozen=True, slots=True)
class Calibration:
    """How often the truth stayed under what was promised."""

    jobs: int
    under_p50: float
    under_p80: float


def calibrate(
    catalog: Catalog, *, bench: BenchFact, benches: int = 10, jobs: int = 60, learn: bool = True, seed: int = 1
) -> Mapping[str, Calibration]:
    """Return calibration of attended minutes on simulated benches, early (first third of the jobs) and late.

    With ``learn`` false the bench keeps promising from the starting estimates.
    """
    under: dict[str, list[tuple[bool, bool]]] = {"early": [], "late": []}
    for number in range(benches):
        generator = random.Random(f"{seed} {number}")
        truth = TrueBench(catalog, generator=generator)
        ledger = Ledger(times=[], tries=[])
        kinds = list(catalog.kinds.values())
        for job in range(jobs):
            kind = generator.choice(kinds)
            findings = draw_inspection(kind, catalog=catalog, generator=generator)
            times = learn_times(ledger.times) if learn else MethodTimes()
            odds = tally_tries(ledger.tries) if learn else Odds()
            plan = plan_work(kind=kind, catalog=catalog, findings=findings, bench=bench, odds=odds, times=times)
            taken = do_job(plan, bench=truth, kind=kind, ledger=ledger)
            promised = plan.attended_minutes
            under["early" if job < jobs // 3 else "late"].append((taken <= promised.p50, taken <= promised.p80))
    return {
        when: Calibration(
            jobs=len(hits),
            under_p50=sum(half for half, _ in hits) / len(hits),
            under_p80=sum(most for _, most in hits) / len(hits),
        )
        for when, hits in under.items()
    }


@dataclass(frozen=True, slots=True)
class OrderGain:
    """Dollars per stuck part, on average over simulated shops, and the share saved with its spread over shops."""

    fixed_amount: float  # gentlest first, as the catalog lists the rungs
    learned_amount: float
    best_amount: float  # with the true odds known from the start
    saved_share: float
    saved_p10: float
    saved_p90: float


def order_gain(
    catalog: Catalog, *, rate_per_hour: float = 30.0, shops: int = 40, tries: int = 120, seed: int = 1
) -> OrderGain:
    """Return what the learned order saves against the fixed one, in shops whose true odds differ from the guesses.

    Both orders keep the force classes and meet the same parts with the same luck: a rung frees a part or it does not,
    whoever tries it when. Cost of a rung: bench time, harm and fee.
    """
    ladders = list(catalog.ladders.values())
    fixed, learned, best = [], [], []
    for number in range(shops):
        generator = random.Random(f"{seed} shop {number}")
        truth = TrueBench(catalog, generator=generator)
        ledger: list[Try] = []
        spent = [0.0, 0.0, 0.0]
        for _ in range(tries):
            ladder = generator.choice(ladders)
            rungs = [rung for rung in ladder.rungs if rung.p > 0]
            works = {rung.code: generator.random() < truth.p(ladder, rung) for rung in rungs}
            cost = {rung.code: _rung_cost(rung, ladder=ladder, rate_per_hour=rate_per_hour) for rung in rungs}
            odds = tally_tries(ledger)
            believed = {
                rung.code: odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p).mean for rung in rungs
            }
            known = {rung.code: truth.p(ladder, rung) for rung in rungs}
            orders = (
                [rung.code for rung in sorted(rungs, key=lambda rung: rung.force)],
                _best(rungs, cost=cost, p=believed),
                _best(rungs, cost=cost, p=known),
            )
            for which, order in enumerate(orders):
                for code in order:
                    spent[which] += cost[code]
                    if which == 1:
                        ledger.append(Try(ladder.code, code, "", "", is_freed=works[code]))
                    if works[code]:
                        break
        fixed.append(spent[0] / tries)
        learned.append(spent[1] / tries)
        best.append(spent[2] / tries)
    saved = sorted(1.0 - new / old for new, old in zip(learned, fixed, strict=True))
    return OrderGain(
        fixed_amount=statistics.mean(fixed),
        learned_amount=statistics.mean(learned),
        best_amount=statistics.mean(best),
        saved_share=statistics.mean(saved),
        saved_p10=saved[len(saved) // 10],
        saved_p90=saved[-1 - len(saved) // 10],
    )


def _rung_cost(rung: Rung, *, ladder: Ladder, rate_per_hour: float) -> float:
    low, likely, high = rung.minutes
    fee = float(rung.fee[0] + rung.fee[1]) / 2.0 if rung.fee is not None else 0.0
    return (low + 4.0 * likely + high) / 6.0 * rate_per_hour / 60.0 + rung.harm * float(ladder.harm_cost) + fee


def _best(rungs: Sequence[Rung], *, cost: Mapping[str, float], p: Mapping[str, float]) -> list[str]:
    present = {rung.code for rung in rungs}
    choices = [
        RungChoice(
            id=rung.code,
            cost=cost[rung.code],
            p=p[rung.code],
            after=tuple(
                other.code
                for other in rungs
                if other.force < rung.force or (other.code in rung.after and other.code in present)
            ),
        )
        for rung in rungs
    ]
    return list(best_order(choices).order)
