"""Shops whose true paces and odds the planner does not know: how well it promises there, and what learning saves."""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.catalog.schema import Catalog, Kind, Ladder, Rung
from repairs.rules.effort import MethodTimes, Range, SetUp, TimeRecord, learn_times
from repairs.rules.facts import BenchFact
from repairs.rules.ladder import RungChoice, best_order, expected_cost, worth_trying
from repairs.rules.odds import Odds, Try, tally_tries
from repairs.rules.plan import Plan, RungState, plan_work
from tests.simulation.drawing import draw_inspection

TRUE_WEIGHT = 6.0  # how many tries the starting guess is worth as a guess of a shop's true chance
# The truth, fixed before it was measured (assumed, no source): sds of logs, of another family than the rules assume.
BENCH_SPREAD = 0.2  # the pace of a whole bench
METHOD_SPREAD = 0.25  # of a method at a bench
PERSON_SPREAD = 0.15  # of each of its two people
OWN_SPREAD = 0.1  # of a person at a method
SCATTER = 0.35  # of one time around all these
DRIFT = 0.02  # of the bench's pace from one job to the next
DOUBT = 0.7  # the setting benefit_of_doubt


class TrueBench:
    """A bench whose true paces and odds nobody knows: drawn once around the starting guesses.

    The bench as a whole is faster or slower and drifts, each method again by itself, and each of its two people, who take
    turns by chance; each time then scatters lognormally around that, whatever the span of the catalog says. The true
    chance of a rung is drawn from a Beta around the starting guess.
    """

    def __init__(self, catalog: Catalog, *, generator: random.Random) -> None:
        self.catalog = catalog
        self.generator = generator
        self.pace = generator.gauss(0.0, BENCH_SPREAD)
        self.people = {name: generator.gauss(0.0, PERSON_SPREAD) for name in ("first", "second")}
        self.person = "first"
        self.paces: dict[tuple[str, str], float] = {}
        self.odds: dict[tuple[str, str], float] = {}

    def begin_job(self) -> None:
        self.person = self.generator.choice(list(self.people))
        self.pace += self.generator.gauss(0.0, DRIFT)

    def minutes(self, name: str, span: tuple[float, float, float]) -> float:
        """Draw what a method (or ladder.rung) takes this time."""
        low, likely, high = span
        log = self.pace + self.people[self.person] + self._pace(name, "", METHOD_SPREAD)
        log += self._pace(name, self.person, OWN_SPREAD) + self.generator.gauss(-(SCATTER**2) / 2.0, SCATTER)
        return (low + 4.0 * likely + high) / 6.0 * math.exp(log)

    def _pace(self, name: str, person: str, spread: float) -> float:
        if (name, person) not in self.paces:
            self.paces[name, person] = self.generator.gauss(0.0, spread)
        return self.paces[name, person]

    def p(self, ladder: Ladder, rung: Rung) -> float:
        key = (ladder.code, rung.code)
        if key not in self.odds:
            guess = min(max(rung.p, 0.02), 0.98)
            self.odds[key] = self.generator.betavariate(TRUE_WEIGHT * guess, TRUE_WEIGHT * (1.0 - guess))
        return self.odds[key]


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
    bench.begin_job()
    total = 0.0
    done: set[str] = set()  # each is set up once
    for step in plan.steps:
        if not step.ladder_key:
            total += _do_work(step.method, catalog.methods[step.method].minutes, bench=bench, ledger=ledger, done=done)
    for planned in plan.ladders:
        ladder = planned.entry
        for rung in planned.ahead:
            if rung.state is RungState.OUTSIDE:
                break
            for code in _needed(rung.entry.needs, kind=kind, catalog=catalog):
                if code not in done:
                    total += _do_work(code, catalog.methods[code].minutes, bench=bench, ledger=ledger, done=done)
            if not rung.is_free:
                name = f"{ladder.code}.{rung.entry.code}"
                total += _do_work(name, rung.entry.minutes, bench=bench, ledger=ledger, done=done)
            is_freed = bench.generator.random() < bench.p(ladder, rung.entry)
            role = kind.part(planned.part).role
            ledger.tries.append(Try(ladder.code, rung.entry.code, kind.code, role, is_freed=is_freed))
            if is_freed:
                break
    return total


def _do_work(name: str, span: tuple[int, int, int], *, bench: TrueBench, ledger: Ledger, done: set[str]) -> float:
    low, likely, high = map(float, span)
    takes = Range(low=low, likely=likely, high=high)
    if name in done:
        takes = SetUp.of(bench.catalog.settings).done_before(takes)
    done.add(name)
    minutes = bench.minutes(name, (takes.low, takes.likely, takes.high))
    ledger.times.append(TimeRecord(method=name, minutes=minutes, likely=takes.likely, person=bench.person))
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
            promised = plan.taken.attended_minutes
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
class Policy:
    """What a stuck part took on average over simulated shops: bench minutes, and dollars with harm and shop fees."""

    minutes: float
    amount: float
    saved_minutes: tuple[float, float, float]  # share saved against the fixed order: mean, 10th and 90th percentile
    saved_amount: tuple[float, float, float]


FIXED, LEARNED, STOPPING, KNOWING = "gentlest first", "learned order", "learned, and stops in time", "true odds known"


def order_gain(
    catalog: Catalog, *, rate_per_hour: float = 30.0, shops: int = 40, tries: int = 120, seed: int = 1
) -> Mapping[str, Policy]:
    """Return what each policy takes in shops whose true odds differ from the guesses.

    All keep to the force classes and meet the same parts with the same luck: a rung frees a part or it does not, whoever
    tries it when. Fixed is the catalog's own order. Stopping also leaves out tries that cost more than they save
    against the shop, and so does the policy that knows the odds. Each learns from its own tries only.
    """
    minutes: dict[str, list[float]] = {name: [] for name in (FIXED, LEARNED, STOPPING, KNOWING)}
    amounts: dict[str, list[float]] = {name: [] for name in minutes}
    for number in range(shops):
        generator = random.Random(f"{seed} shop {number}")
        truth = TrueBench(catalog, generator=generator)
        ledgers: dict[str, list[Try]] = {LEARNED: [], STOPPING: []}
        taken = {name: [0.0, 0.0] for name in minutes}
        for _ in range(tries):
            ladder = generator.choice(list(catalog.ladders.values()))
            rungs = [rung for rung in ladder.rungs if rung.p > 0]
            works = {rung.code: generator.random() < truth.p(ladder, rung) for rung in rungs}
            orders = _orders(rungs, ladder=ladder, truth=truth, ledgers=ledgers, rate_per_hour=rate_per_hour)
            for name, order in orders.items():
                for rung in order:
                    low, likely, high = rung.minutes
                    taken[name][0] += (low + 4.0 * likely + high) / 6.0
                    taken[name][1] += _rung_cost(rung, ladder=ladder, rate_per_hour=rate_per_hour)
                    if name in ledgers:
                        ledgers[name].append(Try(ladder.code, rung.code, "", "", is_freed=works[rung.code]))
                    if works[rung.code]:
                        break
        for name, (spent, cost) in taken.items():
            minutes[name].append(spent / tries)
            amounts[name].append(cost / tries)
    return {
        name: Policy(
            minutes=statistics.mean(minutes[name]),
            amount=statistics.mean(amounts[name]),
            saved_minutes=_saved(minutes[name], minutes[FIXED]),
            saved_amount=_saved(amounts[name], amounts[FIXED]),
        )
        for name in minutes
    }


def _saved(values: Sequence[float], fixed: Sequence[float]) -> tuple[float, float, float]:
    shares = sorted(1.0 - value / start for value, start in zip(values, fixed, strict=True))
    return statistics.mean(shares), shares[len(shares) // 10], shares[-1 - len(shares) // 10]


def _orders(
    rungs: Sequence[Rung],
    *,
    ladder: Ladder,
    truth: TrueBench,
    ledgers: Mapping[str, Sequence[Try]],
    rate_per_hour: float,
) -> dict[str, list[Rung]]:
    known = {rung.code: truth.p(ladder, rung) for rung in rungs}
    found = {FIXED: sorted(rungs, key=lambda rung: rung.force)}
    found[KNOWING] = _best(rungs, ladder=ladder, p=known, rate_per_hour=rate_per_hour, can_stop=True)
    for name, ledger in ledgers.items():
        odds = tally_tries(ledger)
        beliefs = {rung.code: odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p) for rung in rungs}
        p = {code: belief.mean for code, belief in beliefs.items()}
        hoped = {code: max(belief.quantile(DOUBT), belief.mean) for code, belief in beliefs.items()}
        found[name] = _best(
            rungs, ladder=ladder, p=p, hoped=hoped, rate_per_hour=rate_per_hour, can_stop=name == STOPPING
        )
    return found


def _rung_cost(rung: Rung, *, ladder: Ladder, rate_per_hour: float) -> float:
    low, likely, high = rung.minutes
    fee = float(rung.fee[0] + rung.fee[1]) / 2.0 if rung.fee is not None else 0.0
    return (low + 4.0 * likely + high) / 6.0 * rate_per_hour / 60.0 + rung.harm * float(ladder.harm_cost) + fee


def _best(
    rungs: Sequence[Rung],
    *,
    ladder: Ladder,
    p: Mapping[str, float],
    rate_per_hour: float,
    hoped: Mapping[str, float] | None = None,
    can_stop: bool = False,
) -> list[Rung]:
    """Return the order by the odds ``p``; what is not worth a try even at the odds ``hoped`` for is left out."""
    named = {rung.code: rung for rung in rungs}
    choices = {
        rung.code: RungChoice(
            id=rung.code,
            cost=_rung_cost(rung, ladder=ladder, rate_per_hour=rate_per_hour),
            p=p[rung.code],
            after=tuple(
                other.code
                for other in rungs
                if other.force < rung.force or (other.code in rung.after and other.code in named)
            ),
        )
        for rung in rungs
    }
    order = best_order(list(choices.values())).order
    shop = [code for code in order if named[code].fee is not None]
    if can_stop and shop:
        ours = [replace(choices[code], p=(hoped or p)[code]) for code in order if code not in shop]
        to_come = expected_cost([choices[code] for code in shop])
        order = (*worth_trying(ours, to_come=to_come)[0], *shop)
    return [named[code] for code in order]
