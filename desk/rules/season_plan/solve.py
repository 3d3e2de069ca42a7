"""Goals are optimized one after another by HiGHS, each kept for the next, every answer checked in whole numbers.

First the seats (by priority, or all and then by priority), then the dollars; last, if all of that is proven best, the
hours. What a time limit leaves open is reported as a gap. An answer over a budget by a cent is rejected.

Each goal is searched first among the plans that do what the last one does and seat more with it, which is quick; then
among all plans; and if time ran out, with one half of what is done kept, and then the other. Among all, what was reached
is held by a price on falling short of it rather than by a rule: every plan stays allowed, so that a solver short of time
has something to improve; the price is higher than anything that could be won by paying it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import block_array, csr_array, eye_array, vstack

from desk.rules.season_plan.facts import Goal
from desk.rules.season_plan.model import Model, Whole

NEAR = 1e-6  # by how much the solver's bound may be off
PARTS = 2
Left = Callable[[], float]  # seconds that are left now


def without_end() -> float:
    return math.inf


@dataclass(frozen=True, slots=True)
class Stage:
    """One goal: what was reached, and the best that is not ruled out under what the goals before have reached.

    Both are made as small as can be, in the same whole units: seats count below 0.
    """

    reached: int
    bound: int

    @property
    def is_proven(self) -> bool:
        return self.reached == self.bound


@dataclass(frozen=True, slots=True)
class Solution:
    values: Whole  # of the variables of the model
    seats: tuple[Stage, ...]
    cost: Stage | None  # cents; None: not asked for

    @property
    def seats_gap(self) -> float:
        """What a better plan could seat more, at most, as a share of all that it could seat."""
        bound = -sum(stage.bound for stage in self.seats)
        return (bound + sum(stage.reached for stage in self.seats)) / bound if bound else 0.0

    @property
    def cost_gap(self) -> float:
        """What could be saved, at most, as a share of the cost."""
        return (self.cost.reached - self.cost.bound) / self.cost.reached if self.cost and self.cost.reached else 0.0

    @property
    def is_proven(self) -> bool:
        return all(stage.is_proven for stage in self.seats) and (self.cost is None or self.cost.is_proven)


@dataclass(frozen=True)
class _Search:
    """The rows of the model and what goals before have reached, which no later one may undo."""

    matrix: csr_array
    limits: Whole
    most: Whole
    goals: tuple[Whole, ...] = ()
    reached: tuple[int, ...] = ()

    def holds(self, values: Whole) -> bool:
        kept = all(goal @ values <= most for goal, most in zip(self.goals, self.reached, strict=True))
        return bool(
            kept and (self.matrix @ values <= self.limits).all() and ((values >= 0) & (values <= self.most)).all()
        )

    def within(self, goal: Whole, *, low: Whole, high: Whole, seconds: float) -> Whole | None:
        """Return the best values found between bounds, by rules that hold what was reached."""
        matrix, limits = self.matrix, self.limits
        if self.goals:
            matrix = vstack([matrix, csr_array(np.array(self.goals))], format="csr")
            limits = np.concatenate([limits, np.array(self.reached, dtype=np.int64)])
        answer = _answer(goal, matrix, limits, low=low, high=high, seconds=seconds)
        return None if answer.x is None else _whole(answer.x)

    def anywhere(self, goal: Whole, *, known: int, seconds: float, tolerated: float) -> tuple[Whole | None, int]:
        """Return the best values found among all, by prices, and what the goal cannot be below; ``known`` was reached."""
        matrix, limits, count = self.matrix, self.limits, len(self.goals)
        bound = int(np.minimum(goal, 0) @ self.most)
        if seconds <= 0:
            return None, bound
        if count:
            held, reached = csr_array(np.array(self.goals)), np.array(self.reached, dtype=np.int64)
            matrix = block_array([[matrix, None], [held, -eye_array(count)], [-held, None]], format="csr")
            limits = np.concatenate([limits, reached, -reached])
        price = np.full(count, known - bound + 1, dtype=np.int64)
        high = np.concatenate([self.most.astype(np.float64), np.full(count, np.inf)])
        priced = np.concatenate([goal, price])
        answer = _answer(priced, matrix, limits, low=0, high=high, seconds=seconds, slack=count, tolerated=tolerated)
        found = answer.mip_dual_bound
        if found is None or not math.isfinite(found):
            bounds, limited = np.column_stack([np.zeros_like(high), high]), {"time_limit": seconds}
            relaxed = linprog(priced, A_ub=matrix, b_ub=limits, bounds=bounds, options=limited)
            found = relaxed.fun if relaxed.status == 0 else None
        if found is not None:
            bound = max(bound, math.ceil(found - NEAR - 1e-9 * abs(found)))
        return (None if answer.x is None else _whole(answer.x[: len(goal)])), bound


def solve(
    model: Model, *, seconds: float, left: Left = without_end, tolerated: float = 0.0, is_costed: bool = True
) -> Solution:
    """Return the best plan; about so many seconds for each goal, which ends before where its gap is tolerated.

    Nothing is begun once nothing is ``left``, which goals share: what one does not need is there for the next.
    """
    matrix, limits = model.rows
    search = _Search(matrix, limits, model.most)
    values = np.zeros(model.size, dtype=np.int64)
    stages: list[Stage] = []
    wanted = [-goal for goal in model.goals()]
    goals = [*wanted, model.cents, model.hundredth_hours] if is_costed else wanted
    for number, goal in enumerate(goals):
        if number > len(wanted) and not all(stage.is_proven for stage in stages):
            break
        unit = int(np.gcd.reduce(goal)) if goal.any() else 1
        allowed = _allowed(seconds, left, goals=len(goals) - number)
        least = model.floor(goal)
        if model.goal is Goal.MOST and number == len(wanted) - 1 > 0:  # what all of them together leave for the last
            least = max(least, stages[0].bound - sum(stage.reached for stage in stages[1:]))
        values, bound = _better(
            search, goal // unit, values, model, allowed=allowed, tolerated=tolerated, least=least // unit
        )
        reached = int(goal @ values)
        stages.append(Stage(reached, min(bound * unit, reached)))
        search = _Search(matrix, limits, model.most, (*search.goals, goal // unit), (*search.reached, reached // unit))
    cost = stages[len(wanted)] if is_costed else None
    return Solution(values, tuple(stages[: len(wanted)]), cost)


def _allowed(seconds: float, left: Left, *, goals: int) -> Left:
    """Return what one search of the next goal may take: half of that goal's share, as it is searched more than once."""
    most = min(seconds, left() / goals / 2)
    return lambda: min(most, left())


def _better(
    search: _Search, goal: Whole, values: Whole, model: Model, *, allowed: Left, tolerated: float, least: int
) -> tuple[Whole, int]:
    """Return values at least as good as those given, and what the goal cannot be below; ``least`` is known of that."""
    if not goal.any():
        return values, 0
    if goal @ values <= least:
        return values, least
    values = _kept(search, goal, values, model, parts=1, part=0, seconds=allowed())
    found, bound = search.anywhere(goal, known=int(goal @ values), seconds=allowed(), tolerated=tolerated)
    bound = max(bound, least)
    if found is not None and search.holds(found) and goal @ found < goal @ values:
        values = found
    for part in range(PARTS):
        if goal @ values - bound > tolerated * abs(bound):
            values = _kept(search, goal, values, model, parts=PARTS, part=part, seconds=allowed() / PARTS)
    return values, bound


def _kept(search: _Search, goal: Whole, values: Whole, model: Model, *, parts: int, part: int, seconds: float) -> Whole:
    """Return values at least as good, found while what is done with one part of the instruments stays as it is."""
    if seconds <= 0:
        return values
    kept = np.array(
        [bool(way.uses) and way.group % parts == part for way in model.ways] + [False] * len(model.flows),
        dtype=np.bool_,
    )
    low, high = np.where(kept, values, 0), np.where(kept, values, model.most)
    found = search.within(goal, low=low, high=high, seconds=seconds)
    return found if found is not None and search.holds(found) and goal @ found < goal @ values else values


def _answer(
    goal: Whole,
    matrix: csr_array,
    limits: Whole,
    *,
    low: Whole | int,
    high: Whole | NDArray[np.float64],
    seconds: float,
    slack: int = 0,
    tolerated: float = 0.0,
) -> Any:
    return milp(
        goal.astype(np.float64),
        integrality=np.concatenate([np.ones(len(goal) - slack), np.zeros(slack)]),
        bounds=Bounds(np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)),
        constraints=LinearConstraint(matrix.astype(np.float64), -np.inf, limits.astype(np.float64)),
        options={"time_limit": seconds, "mip_rel_gap": tolerated},
    )


def _whole(values: NDArray[np.float64]) -> Whole:
    return np.rint(values).astype(np.int64)
