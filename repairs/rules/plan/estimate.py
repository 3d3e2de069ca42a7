"""What a plan will take: attended minutes, waiting, days and dollars, over every branch of its ladders."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

import numpy as np

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
from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen
from repairs.rules.plan.needs import Needed
from repairs.rules.plan.rungs import Climb
from repairs.rules.plan.together import putting_back
from repairs.rules.plan.values import PlannedRung, RungState, SentOut, Taken

METHOD = (
    "exact sums of PERT distributions over every branch of the ladders, steps independent but for the pace of the bench; "
    "waits of one phase run side by side; learned paces and odds where there are records"
)
FINEST_MINUTE = 0.5
FINEST_HOUR = 0.25
FINEST_DOLLAR = 0.25


@dataclass(frozen=True, eq=False)
class PlanReckoning:
    """What a plan takes, worked out once, when first asked for."""

    case: Case
    chosen: Chosen
    bench_hours_per_day: float

    @cached_property
    def taken(self) -> Taken:
        return estimate(
            self.case,
            chosen=self.chosen,
            send_out=self.chosen.send_out,
            bench_hours_per_day=self.bench_hours_per_day,
        )

    @cached_property
    def mean_minutes(self) -> float:
        """Return the attended minutes on average: means add up, whatever the spread and the pace of the bench."""
        pieces = [_piece(self.case, needed) for needed in self.chosen.methods.values()]
        pieces += _reached_needs(self.case, self.chosen)
        minutes = sum(piece.chance * pert_mean(piece.minutes) for piece in pieces)
        return minutes + sum(tail_of(one.planned.ahead)["minutes"] for one in self.chosen.climbs.values())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PlanReckoning) and self.taken == other.taken

    def __hash__(self) -> int:
        return hash(self.taken)


@dataclass(frozen=True, slots=True)
class _Piece:
    """One step, or one step that only some branches reach, with its chance."""

    minutes: Range
    parts: Range
    wait_h: float
    phase: int
    chance: float = 1.0


def parts_range(parts: Iterable[PartNeed]) -> Range:
    """Return low, middle and high price of what is used up."""
    low = float(sum((part.low for part in parts), Decimal(0)))
    high = float(sum((part.high for part in parts), Decimal(0)))
    return Range(low=low, likely=(low + high) / 2.0, high=high)


def estimate(case: Case, *, chosen: Chosen, send_out: Sequence[SentOut], bench_hours_per_day: float) -> Taken:
    """Return what the plan takes. Shared needs of later rungs count once, with the chance that any ladder reaches them."""
    pieces = [_piece(case, needed) for needed in chosen.methods.values()]
    pieces += _reached_needs(case, chosen)
    climbs = list(chosen.climbs.values())
    rate = float(case.bench.rate_amount) / 60.0
    paces = case.times.paces
    slowest = max(pace for _, pace in paces)
    minute = grid_step(largest=slowest * _most_minutes(pieces, climbs), finest=FINEST_MINUTE)
    minutes = mixture([(chance, _minutes(pieces, climbs, pace=pace, step=minute)) for chance, pace in paces])
    waiting = _waiting(pieces, climbs)
    dollar = grid_step(largest=_most_dollars(pieces, climbs, send_out, rate=slowest * rate), finest=FINEST_DOLLAR)
    cost = mixture([(chance, _cost(pieces, climbs, rate=pace * rate, step=dollar)) for chance, pace in paces])
    outside = total([_fee(one.fee_low_amount, one.fee_high_amount, step=dollar) for one in send_out], step=dollar)
    return Taken(
        attended_minutes=minutes.estimate,
        waiting_hours=waiting.estimate,
        elapsed_days=_days(minutes, waiting, bench_hours_per_day=bench_hours_per_day),
        cost=cost.estimate,
        outside_cost=outside.estimate,
        total_cost=cost.plus(outside).estimate,
    )


def _minutes(pieces: Sequence[_Piece], climbs: Sequence[Climb], *, pace: float, step: float) -> Distribution:
    return total(
        [spread(one.minutes.times(pace), step=step).only_with(one.chance) for one in pieces]
        + [_climb_minutes(one, pace=pace, step=step) for one in climbs],
        step=step,
    )


def _cost(pieces: Sequence[_Piece], climbs: Sequence[Climb], *, rate: float, step: float) -> Distribution:
    """Return dollars at so many dollars a minute."""
    return total(
        [
            spread(one.minutes.times(rate), step=step).plus(spread(one.parts, step=step)).only_with(one.chance)
            for one in pieces
        ]
        + [_climb_cost(one, rate=rate, step=step) for one in climbs],
        step=step,
    )


def _piece(case: Case, needed: Needed, *, chance: float = 1.0) -> _Piece:
    method = needed.method
    return _Piece(
        minutes=case.minutes(method.code, method.minutes),
        parts=parts_range(method.parts),
        wait_h=float(method.wait_h),
        phase=method.phase,
        chance=chance,
    )


def _reached_needs(case: Case, chosen: Chosen) -> list[_Piece]:
    missed: dict[str, float] = {}
    found: dict[str, Needed] = {}
    for one in chosen.climbs.values():
        reach = 1.0
        for rung in one.planned.ahead:
            if rung.state is not RungState.OUTSIDE:
                needs = one.spot.needs(one.rung(rung.code)).found
                for needed in (*needs, *putting_back(case, [first.method for first in needs])):
                    if needed.key not in chosen.methods:
                        found.setdefault(needed.key, needed)
                        missed.setdefault(f"{needed.key} {one.planned.key}", reach)
            reach *= 1.0 - rung.p
    chances = dict.fromkeys(found, 1.0)
    for name, reach in missed.items():
        chances[name.split(" ", 1)[0]] *= 1.0 - reach
    return [_piece(case, needed, chance=1.0 - chances[key]) for key, needed in found.items()]


def _climb_minutes(one: Climb, *, pace: float, step: float) -> Distribution:
    return climb([(rung.p, spread(rung.minutes.times(pace), step=step)) for rung in one.planned.ahead], step=step)


def _climb_cost(one: Climb, *, rate: float, step: float) -> Distribution:
    harm_cost = certainly(float(one.ladder.harm_cost), step=step)
    branches = []
    for rung in one.planned.ahead:
        takes = spread(rung.minutes.times(rate), step=step)
        fee = one.rung(rung.code).fee
        if rung.state is RungState.OUTSIDE and fee is not None:
            takes = takes.plus(_fee(fee[0], fee[1], step=step))
        takes = takes.plus(harm_cost.only_with(rung.harm))
        branches.append((rung.p, takes))
    return climb(branches, step=step).plus(spread(parts_range(one.method.parts), step=step))


def _fee(low: Decimal, high: Decimal, *, step: float) -> Distribution:
    return spread(Range(low=float(low), likely=float(low + high) / 2.0, high=float(high)), step=step)


def _waiting(pieces: Sequence[_Piece], climbs: Sequence[Climb]) -> Distribution:
    longest = sum(piece.wait_h for piece in pieces)
    longest += sum(float(rung.wait_h) for one in climbs for rung in one.planned.ahead)
    step = grid_step(largest=longest, finest=FINEST_HOUR)
    phases: dict[int, list[Distribution]] = {}
    for piece in pieces:
        if piece.wait_h:
            phases.setdefault(piece.phase, []).append(certainly(piece.wait_h, step=step).only_with(piece.chance))
    for one in climbs:
        branches = [(rung.p, certainly(float(rung.wait_h), step=step)) for rung in one.planned.ahead]
        phases.setdefault(one.method.phase, []).append(climb(branches, step=step))
    return total([_longest(waits, step=step) for waits in phases.values()], step=step)


def _longest(waits: Sequence[Distribution], *, step: float) -> Distribution:
    """Return the distribution of the longest of independent waits: the product of their distribution functions."""
    size = max(len(one.masses) for one in waits)
    under = np.ones(size)
    for one in waits:
        under *= np.minimum(np.cumsum(np.pad(one.masses, (0, size - len(one.masses)))), 1.0)
    return Distribution(step=step, masses=np.clip(np.diff(under, prepend=0.0), 0.0, None))


def _days(minutes: Distribution, waiting: Distribution, *, bench_hours_per_day: float) -> Estimate:
    """Return calendar days: hands-on time spread over short bench days, and the waits between."""
    at_work = replace(minutes, step=minutes.step / 60.0 / bench_hours_per_day)
    at_rest = replace(waiting, step=waiting.step / 24.0)
    step = max(at_work.step, at_rest.step)
    return at_work.on_grid(step).plus(at_rest.on_grid(step)).estimate


def _most_minutes(pieces: Sequence[_Piece], climbs: Sequence[Climb]) -> float:
    rungs = sum(rung.minutes.high for one in climbs for rung in one.planned.ahead)
    return sum(piece.minutes.high for piece in pieces) + rungs


def _most_dollars(
    pieces: Sequence[_Piece], climbs: Sequence[Climb], send_out: Sequence[SentOut], *, rate: float
) -> float:
    """Return a bound on the cost of the plan, harm of every rung included."""
    bound = _most_minutes(pieces, climbs) * rate + sum(piece.parts.high for piece in pieces)
    for one in climbs:
        bound += parts_range(one.method.parts).high
        for rung in one.planned.ahead:
            fee = one.rung(rung.code).fee
            bound += float(one.ladder.harm_cost) + (float(fee[1]) if fee is not None else 0.0)
    return bound + float(sum((one.fee_high_amount for one in send_out), Decimal(0)))


def tail_of(rungs: Sequence[PlannedRung]) -> Mapping[str, float]:
    """Return the mean minutes, wait hours and weighed dollars of rungs in this order, the first one reached for sure."""
    reach, minutes, hours, dollars = 1.0, 0.0, 0.0, 0.0
    for rung in rungs:
        span = rung.minutes
        minutes += reach * pert_mean(span)
        hours += reach * float(rung.wait_h)
        dollars += reach * float(rung.cost_amount)
        reach *= 1.0 - rung.p
    return {"minutes": minutes, "wait_h": hours, "amount": dollars}
