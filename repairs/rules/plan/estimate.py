"""What a plan will take: attended minutes, waiting, days and dollars, over every branch of its ladders."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

import numpy as np

from core.money import cents
from core.translation import gettext_noop
from inventory.catalog.schema import PartNeed
from repairs.rules.effort import (
    Distribution,
    Estimate,
    Range,
    certainly,
    climb,
    grid_step,
    mixture,
    pert_mean,
    spread,
    total,
)
from repairs.rules.ladder import expected_cost
from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen
from repairs.rules.plan.needs import Needed, putting_back
from repairs.rules.plan.rungs import Climb, choice_of
from repairs.rules.plan.values import Bill, PlannedRung, RungState, Taken

METHOD = gettext_noop(
    "exact sums of PERT distributions over every branch of the ladders, "
    "steps independent but for the paces of bench, person and method; "
    "waits of one phase run side by side; learned paces and odds where there are records"
)
# The finest steps of the sums: nobody times, waits or pays more closely, and finer grids only take longer.
FINEST_MINUTE = 0.5
FINEST_HOUR = 0.25
FINEST_DOLLAR = 0.25


@dataclass(frozen=True, slots=True)
class _Piece:
    """One step, or one step that only some branches reach, with its chance."""

    minutes: Range
    parts: Range  # dollars
    wait_h: float
    phase: int
    chance: float = 1.0
    method: str = ""


@dataclass(frozen=True, eq=False)
class PlanCosting:
    """What a plan takes, worked out once, when first asked for.

    Each sum of distributions needs a grid; its step follows from the most that the plan could take.
    """

    case: Case
    chosen: Chosen
    bench_hours_per_day: float

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PlanCosting) and self.taken == other.taken

    def __hash__(self) -> int:
        return hash(self.taken)

    @cached_property
    def mean_minutes(self) -> float:
        """Return the attended minutes on average: means add up, whatever the spread and the pace of the bench."""
        return sum(self.minutes_by_method.values())

    def to_fix(self, finding: str) -> Bill | None:
        """Return what the finding with this key takes on average, over all ways of a ladder; None if not done here."""
        keys = [key for key, found in self.chosen.findings.items() if any(one.key == finding for one in found)]
        methods = [self.chosen.methods[key].method for key in keys if key in self.chosen.methods]
        climbs = [self.chosen.climbs[key] for key in keys if key in self.chosen.climbs]
        if not methods and not climbs:
            return None
        minutes = sum(map(self.case.mean_minutes, methods))
        minutes += sum(expected_takes(one.planned.ahead).minutes for one in climbs)
        spent = sum(parts_range(one.parts).likely for one in methods)
        spent += sum(self._cost_of_climb(one, rate=0.0, step=FINEST_DOLLAR).mean for one in climbs)
        dollars = minutes * float(self.case.bench.rate_amount) / 60.0 + spent
        return Bill(minutes=minutes, amount=cents(dollars))

    @cached_property
    def taken(self) -> Taken:
        """Return what the plan takes. Minutes and cost are mixed over the paces that the bench may turn out to have."""
        paces = self.case.times.paces(self.minutes_by_method)
        slowest = max(pace for _, pace in paces)
        step = grid_step(largest=slowest * self._most_minutes, finest=FINEST_MINUTE)
        minutes = mixture([(chance, self._minutes(pace=pace, step=step)) for chance, pace in paces])
        rate = float(self.case.bench.rate_amount) / 60.0
        step = grid_step(largest=self._most_dollars(rate=slowest * rate), finest=FINEST_DOLLAR)
        cost = mixture([(chance, self._cost(rate=pace * rate, step=step)) for chance, pace in paces])
        outside = total(
            [_fee((one.fee_low_amount, one.fee_high_amount), step=step) for one in self.chosen.send_out], step=step
        )
        return Taken(
            attended_minutes=minutes.estimate,
            waiting_hours=self._waiting.estimate,
            elapsed_days=self._days(minutes),
            cost=cost.estimate,
            outside_cost=outside.estimate,
            total_cost=cost.plus(outside).estimate,
        )

    @cached_property
    def _pieces(self) -> list[_Piece]:
        """Return the planned steps, and what later tries need. A shared need counts once, if any ladder reaches it."""
        pieces = [self._piece(needed, key=key) for key, needed in self.chosen.methods.items()]
        found: dict[str, Needed] = {}
        missed: dict[str, list[float]] = {}  # by need: for each ladder the chance that it frees before coming to it
        for one in self.chosen.climbs.values():
            for key, (needed, reach) in self._needs_of_tries(one).items():
                found.setdefault(key, needed)
                missed.setdefault(key, []).append(1.0 - reach)
        return pieces + [self._piece(one, key=key, chance=1.0 - math.prod(missed[key])) for key, one in found.items()]

    def _needs_of_tries(self, one: Climb) -> dict[str, tuple[Needed, float]]:
        """Return what a ladder's tries need beyond the plan, with the chance that it comes to the first of them."""
        found: dict[str, tuple[Needed, float]] = {}
        reach = 1.0
        for rung in one.planned.ahead:
            if rung.state is not RungState.OUTSIDE:
                needs = one.spot.needs(rung.entry).found
                for needed in (*needs, *putting_back(self.case, [first.method for first in needs])):
                    if needed.key not in self.chosen.methods:
                        found.setdefault(needed.key, (needed, reach))
            reach *= 1.0 - rung.p
        return found

    def _piece(self, needed: Needed, *, key: str, chance: float = 1.0) -> _Piece:
        method = needed.method
        minutes = self._set_up(key, self.case.minutes(method.code, method.minutes))
        return _Piece(minutes, parts_range(method.parts), float(method.wait_h), method.phase, chance, method.code)

    @cached_property
    def _again(self) -> frozenset[str]:
        """Return the keys of steps that the same work at another part sets up."""
        return self.chosen.set_up_before(self.chosen.works())

    def _set_up(self, key: str, minutes: Range) -> Range:
        return self.case.set_up.done_before(minutes) if key in self._again else minutes

    def _tries(self, one: Climb) -> list[tuple[PlannedRung, Range]]:
        """Return the rungs ahead with their minutes; the first of them may have been set up at another part."""
        return [(rung, self._set_up(rung.step_key, rung.minutes)) for rung in one.planned.ahead]

    @property
    def minutes_by_method(self) -> dict[str, float]:
        """Return the mean minutes of each method, or of each rung of a ladder."""
        found: dict[str, float] = defaultdict(float)
        for piece in self._pieces:
            found[piece.method] += piece.chance * pert_mean(piece.minutes)
        for one in self.chosen.climbs.values():
            reach = 1.0
            for rung, minutes in self._tries(one):
                found[one.work(rung)] += reach * pert_mean(minutes)
                reach *= 1.0 - rung.p
        return found

    def _minutes(self, *, pace: float, step: float) -> Distribution:
        pieces = [spread(one.minutes.times(pace), step=step).only_with(one.chance) for one in self._pieces]
        tries = [
            climb([(rung.p, spread(minutes.times(pace), step=step)) for rung, minutes in self._tries(one)], step=step)
            for one in self.chosen.climbs.values()
        ]
        return total([*pieces, *tries], step=step)

    def _cost(self, *, rate: float, step: float) -> Distribution:
        """Return dollars at so many dollars a minute."""
        pieces = [
            spread(one.minutes.times(rate), step=step).plus(spread(one.parts, step=step)).only_with(one.chance)
            for one in self._pieces
        ]
        tries = [self._cost_of_climb(one, rate=rate, step=step) for one in self.chosen.climbs.values()]
        return total([*pieces, *tries], step=step)

    def _cost_of_climb(self, one: Climb, *, rate: float, step: float) -> Distribution:
        """Return dollars of the tries up to the first success: bench time, a shop's fee, harm; and parts, used once."""
        harm_cost = certainly(float(one.ladder.harm_cost), step=step)
        tries = []
        for rung, minutes in self._tries(one):
            takes = spread(minutes.times(rate), step=step)
            fee = rung.entry.fee
            if rung.state is RungState.OUTSIDE and fee is not None:
                takes = takes.plus(_fee(fee, step=step))
            tries.append((rung.p, takes.plus(harm_cost.only_with(rung.entry.harm))))
        return climb(tries, step=step).plus(spread(parts_range(one.method.parts), step=step))

    @cached_property
    def _waiting(self) -> Distribution:
        """Return the hours that need nobody. Waits of one phase run side by side, phases one after another."""
        longest = sum(piece.wait_h for piece in self._pieces)
        longest += sum(float(rung.wait_h) for one in self.chosen.climbs.values() for rung in one.planned.ahead)
        step = grid_step(largest=longest, finest=FINEST_HOUR)
        phases: dict[int, list[Distribution]] = {}
        for piece in self._pieces:
            if piece.wait_h:
                phases.setdefault(piece.phase, []).append(certainly(piece.wait_h, step=step).only_with(piece.chance))
        for one in self.chosen.climbs.values():
            tries = [(rung.p, certainly(float(rung.wait_h), step=step)) for rung in one.planned.ahead]
            phases.setdefault(one.method.phase, []).append(climb(tries, step=step))
        return total([_longest(waits, step=step) for waits in phases.values()], step=step)

    def _days(self, minutes: Distribution) -> Estimate:
        """Return calendar days: hands-on time spread over short bench days, and the waits between."""
        at_work = replace(minutes, step=minutes.step / 60.0 / self.bench_hours_per_day)
        at_rest = replace(self._waiting, step=self._waiting.step / 24.0)
        step = max(at_work.step, at_rest.step)
        return at_work.on_grid(step).plus(at_rest.on_grid(step)).estimate

    @property
    def _most_minutes(self) -> float:
        rungs = sum(rung.minutes.high for one in self.chosen.climbs.values() for rung in one.planned.ahead)
        return sum(piece.minutes.high for piece in self._pieces) + rungs

    def _most_dollars(self, *, rate: float) -> float:
        """Return a bound on the cost of the plan, harm and fee of every rung included."""
        bound = self._most_minutes * rate + sum(piece.parts.high for piece in self._pieces)
        for one in self.chosen.climbs.values():
            bound += parts_range(one.method.parts).high
            fees = [rung.entry.fee for rung in one.planned.ahead]
            bound += sum(float(one.ladder.harm_cost) + (float(fee[1]) if fee else 0.0) for fee in fees)
        return bound + float(sum((one.fee_high_amount for one in self.chosen.send_out), Decimal(0)))


def parts_range(parts: Iterable[PartNeed]) -> Range:
    """Return low, middle and high price of what is used up."""
    low = float(sum((part.low for part in parts), Decimal(0)))
    high = float(sum((part.high for part in parts), Decimal(0)))
    return Range(low=low, likely=(low + high) / 2.0, high=high)


def _fee(fee: tuple[Decimal, Decimal], *, step: float) -> Distribution:
    low, high = fee
    return spread(Range(low=float(low), likely=float(low + high) / 2.0, high=float(high)), step=step)


def _longest(waits: Sequence[Distribution], *, step: float) -> Distribution:
    """Return the distribution of the longest of independent waits: the product of their distribution functions."""
    size = max(len(one.masses) for one in waits)
    under = np.ones(size)
    for one in waits:
        under *= np.minimum(np.cumsum(np.pad(one.masses, (0, size - len(one.masses)))), 1.0)
    return Distribution(step=step, masses=np.clip(np.diff(under, prepend=0.0), 0.0, None))


def expected_takes(rungs: Sequence[PlannedRung]) -> Bill:
    """Return what rungs in this order take on average up to the first success, as the order weighs them.

    The first one is reached for sure; what several need first is done for the first of them that is reached.
    """
    choices = [choice_of(one) for one in rungs]
    timed = [
        replace(
            choice, cost=pert_mean(one.minutes), set_up=tuple((name, bill.minutes) for name, bill in one.first_takes)
        )
        for choice, one in zip(choices, rungs, strict=True)
    ]
    return Bill(minutes=expected_cost(timed), amount=cents(expected_cost(choices)))
