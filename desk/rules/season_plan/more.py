"""What more money or hours would buy: the plan is made again with more in one budget at a time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from desk.rules.season_plan.facts import Budget, BudgetKind, Budgets, Goal, Season
from desk.rules.season_plan.result import SECONDS, SeasonPlan, plan_season
from desk.rules.season_plan.solve import Left, without_end

MORE_MONEY = (Decimal(100), Decimal(500))
MORE_HOURS = (Decimal(5),)
# To draw how seats rise with money and hours.
FRONTIER_MONEY = (Decimal(100), Decimal(250), Decimal(500), Decimal(1000))
FRONTIER_HOURS = (Decimal(2), Decimal(5), Decimal(10))


@dataclass(frozen=True, slots=True)
class More:
    """So much more in one budget, and what it would do."""

    budget: Budget
    more: Decimal  # dollars or hours
    plan: SeasonPlan
    by_priority: tuple[tuple[int, int], ...]  # priority, and how many seats more of it; fewer is below 0

    @property
    def seats(self) -> int:
        """Return how many seats more are filled, of all priorities; below 0 where better ones take their money."""
        return sum(seats for _, seats in self.by_priority)


def more_of(
    season: Season,
    plan: SeasonPlan,
    *,
    money: tuple[Decimal, ...] = MORE_MONEY,
    hours: tuple[Decimal, ...] = MORE_HOURS,
    seconds: float = SECONDS,
    left: Left = without_end,
    tolerated: float = 0.0,
) -> Iterator[More]:
    """Yield what each step more of each budget that has a limit would buy, all others as they are.

    Never a worse plan than one found with less: that one is still allowed. Ends early where nothing is ``left``: what was
    cut short would show losses that are none.
    """
    before, best = seated_by_priority(plan), dict[Budget, SeasonPlan]()
    for budget, more in steps_of(season.budgets, money=money, hours=hours):
        if left() <= 0:
            return
        richer = replace(season, budgets=season.budgets.with_more(budget, more))
        again = plan_season(richer, seconds=seconds, left=left, tolerated=tolerated, is_costed=False)
        if left() <= 0 and not again.is_proven:
            return
        known = best.get(budget, plan)
        if not again.is_proven and _worth(again, season.goal) < _worth(known, season.goal):
            again = replace(known, is_proven=False, gap=again.gap)
        best[budget] = again
        after = seated_by_priority(again)
        gained = tuple((priority, after[priority] - seated) for priority, seated in before.items())
        yield More(budget=budget, more=more, plan=again, by_priority=gained)


def _worth(plan: SeasonPlan, goal: Goal) -> tuple[Decimal, ...]:
    """What a goal compares plans by: weight by priority, under MOST that of all of them first."""
    by_priority = dict.fromkeys(sorted({one.seats.priority for one in plan.filled}), Decimal(0))
    for one in plan.filled:
        by_priority[one.seats.priority] += one.seated * one.seats.weight
    return (plan.weight, *by_priority.values()) if goal is Goal.MOST else tuple(by_priority.values())


def steps_of(
    budgets: Budgets, *, money: tuple[Decimal, ...] = MORE_MONEY, hours: tuple[Decimal, ...] = MORE_HOURS
) -> list[tuple[Budget, Decimal]]:
    """Return each step more of each budget that has a limit."""
    return [
        (budget, more)
        for budget, _ in budgets.limits()
        for more in (hours if budget.kind is BudgetKind.HOURS else money)
    ]


def seated_by_priority(plan: SeasonPlan) -> dict[int, int]:
    """Return how many seats of each priority are filled, the first priority first."""
    found = dict.fromkeys(sorted({one.seats.priority for one in plan.filled}), 0)
    for one in plan.filled:
        found[one.seats.priority] += one.seated
    return found
