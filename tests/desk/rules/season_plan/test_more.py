"""What more in one budget would buy is what the plan with that budget does."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from desk.rules.season_plan import Action, BudgetKind, Budgets, Candidate, Option, Season, Seats, more_of, plan_season
from desk.rules.season_plan.more import seated_by_priority, steps_of


def season() -> Season:
    """Three tubas at $100, $350 and $140 outside; four trumpets of two hours here. Nothing to spend yet."""
    tubas = [
        Candidate(f"U{n}", "tuba", options=(Option(Action.SEND_OUT, shop_amount=Decimal(price)),))
        for n, price in enumerate((100, 350, 140))
    ]
    trumpets = [Candidate(f"T{n}", "trumpet", options=(Option(Action.REPAIR, hours=Decimal(2)),)) for n in range(4)]
    seats = (Seats("wind", "tuba", count=3), Seats("beginners", "trumpet", count=4, priority=2))
    return Season(seats, (*tubas, *trumpets), budgets=Budgets(Decimal(0), None, Decimal(0)))


def test_each_budget_with_a_limit_is_tried_by_itself():
    """Worked by hand: $100 repairs one tuba, $500 two (100 + 350 or 100 + 140); 5 hours two trumpets of two hours."""
    asked = season()
    found = {(one.budget.kind, one.more): (one.seats, one.by_priority) for one in more_of(asked, plan_season(asked))}
    assert found == {
        (BudgetKind.HOURS, Decimal(5)): (2, ((1, 0), (2, 2))),
        (BudgetKind.SHOP, Decimal(100)): (1, ((1, 1), (2, 0))),
        (BudgetKind.SHOP, Decimal(500)): (2, ((1, 2), (2, 0))),
    }


@pytest.mark.parametrize("more", [Decimal(100), Decimal(240), Decimal(590)], ids=str)
def test_it_is_the_plan_of_the_richer_season(more):
    asked = season()
    richer = replace(asked, budgets=replace(asked.budgets, shop_amount=more))
    found = next(one for one in more_of(asked, plan_season(asked), money=(more,)) if one.budget.kind is BudgetKind.SHOP)
    assert found.plan.seated == plan_season(richer).seated


def test_seats_are_counted_by_priority():
    assert seated_by_priority(plan_season(replace(season(), budgets=Budgets()))) == {1: 3, 2: 4}


def test_what_there_is_no_time_for_is_left_out():
    asked = season()
    seconds = [9.0]
    rest = more_of(asked, plan_season(asked), left=lambda: seconds[0])
    assert next(rest).budget.kind is BudgetKind.HOURS
    seconds[0] = 0.0
    assert list(rest) == []
    assert len(steps_of(asked.budgets)) == 3  # 5 hours, $100, $500


def test_what_is_not_searched_to_the_end_is_no_worse_than_what_was_found_with_less(monkeypatch):
    """The search for $500 more ends at no tuba at all; with $100 more one was found, which $500 pay as well."""
    asked = season()
    real, plan = plan_season, plan_season(asked)

    def short_of_time(richer, **options):
        found = real(richer, **options)
        return replace(plan, is_proven=False, gap=0.5) if richer.budgets.shop_amount == 500 else found

    monkeypatch.setattr("desk.rules.season_plan.more.plan_season", short_of_time)
    found = [one for one in more_of(asked, plan) if one.budget.kind is BudgetKind.SHOP]
    assert [(one.seats, one.plan.is_proven) for one in found] == [(1, True), (1, False)]


def test_what_was_cut_short_is_no_loss():
    """The time is up once the first step began: no plan was searched, which is not two seats fewer."""
    asked = replace(season(), budgets=Budgets(Decimal(4)))
    left = iter([1.0])
    assert list(more_of(asked, plan_season(asked), left=lambda: next(left, 0.0))) == []
