"""A season plan as plain values: money as a text with two places, a share as a number."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from desk.rules.season_plan.facts import ALL_BENCHES, Budget, BudgetKind, Season
from desk.rules.season_plan.more import More
from desk.rules.season_plan.result import Decision, SeasonPlan
from desk.rules.season_plan.words import why_words

MONEY_BUDGETS = (BudgetKind.REPAIR, BudgetKind.SHOP, BudgetKind.PURCHASE)


def plan_as_dict(season: Season, plan: SeasonPlan, *, more: Iterable[More] | None = None) -> dict[str, Any]:
    """Return what the command prints."""
    report: dict[str, Any] = {
        "seated": plan.seated,
        "wanted": plan.wanted,
        "weight": _number(plan.weight),
        "by_seat": [
            {
                "id": one.seats.key,
                "kind": one.seats.kind,
                "priority": one.seats.priority,
                "wanted": one.seats.count,
                "seated": one.seated,
                "why": why_words(one.why) if one.why else None,
            }
            for one in plan.filled
        ],
        "decisions": [_decision(one) for one in plan.decisions],
        "cost": _money(plan.cost_amount),
        "by_pot": _budget_lines(season, plan),
        "gap": round(plan.gap, 6),
        "proven": plan.is_proven,
        "goal": season.goal.value,
    }
    if more is not None:
        report["more"] = [
            {
                "budget": one.budget.kind.value,
                "bench": one.budget.bench or None,
                "more": _money(one.more),
                "seats": one.seats,
                "by_priority": {str(priority): seats for priority, seats in one.by_priority},
                "proven": one.plan.is_proven,
            }
            for one in more
        ]
    return report


def _decision(one: Decision) -> dict[str, Any]:
    line: dict[str, Any] = {
        "id": one.key,
        "do": one.action.value,
        "seat": one.seats or None,
        "cost": _money(one.amount),
        "hours": _money(one.hours),
    }
    if one.purchase is not None:
        line["count"] = one.count
    if one.option is not None and one.option.bench:
        line["bench"] = one.option.bench
    if one.ready_on is not None:
        line["ready_on"] = one.ready_on.isoformat()
    if one.why is not None:
        line |= {"why": one.why.value, "because": why_words(one.why)}
    return line


def _budget_lines(season: Season, plan: SeasonPlan) -> dict[str, Any]:
    limits, used = dict(season.budgets.limits()), plan.used
    budgets_used: dict[str, Any] = {
        kind.value: _used_of(used.get(Budget(kind), Decimal(0)), limits.get(Budget(kind))) for kind in MONEY_BUDGETS
    }
    hours = {budget.bench: amount for budget, amount in used.items() if budget.kind is BudgetKind.HOURS}
    total = _used_of(plan.hours, limits.get(Budget(BudgetKind.HOURS, ALL_BENCHES)))
    benches = sorted({*hours, *(budget.bench for budget in limits if budget.kind is BudgetKind.HOURS)} - {ALL_BENCHES})
    by_bench = {one: _used_of(hours.get(one, Decimal(0)), limits.get(Budget(BudgetKind.HOURS, one))) for one in benches}
    return {BudgetKind.HOURS.value: total | ({"by_bench": by_bench} if by_bench else {}), **budgets_used}


def _used_of(used: Decimal, limit: Decimal | None) -> dict[str, Any]:
    return {"used": _money(used), "limit": None if limit is None else _money(limit)}


def _money(amount: Decimal) -> str:
    return f"{amount:.2f}"


def _number(value: Decimal) -> int | float:
    return int(value) if value == value.to_integral_value() else float(value)
