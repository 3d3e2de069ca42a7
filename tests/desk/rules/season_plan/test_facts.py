"""What a season is made from: which instrument suits which seats, and budgets that grow."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from desk.rules.season_plan import Budget, BudgetKind, Budgets, Seats
from desk.rules.season_plan.facts import suits

ASKED = Seats("s", "trumpet", school="north", size="half", level="concert", needed_by=date(2027, 8, 20))
HORN = {
    "kind": "trumpet",
    "school": "north",
    "size": "half",
    "levels": frozenset({"concert"}),
    "ready_on": date(2027, 8, 20),
}


@pytest.mark.parametrize(
    ("changed", "may"),
    [
        ({}, True),
        ({"kind": "cornet"}, False),
        ({"school": "south"}, False),
        ({"school": ""}, True),
        ({"size": ""}, False),
        ({"levels": frozenset({"first_year"})}, False),
        ({"levels": None}, True),
        ({"ready_on": date(2027, 8, 21)}, False),
        ({"ready_on": None}, True),
    ],
    ids=str,
)
def test_an_instrument_suits_seats_when_all_that_they_ask_for_is_there(changed, may):
    assert suits(ASKED, **HORN | changed) is may


def test_seats_that_ask_for_nothing_take_any_of_the_kind():
    assert suits(Seats("s", "trumpet"), **HORN)


@pytest.mark.parametrize("hours", [Decimal(8), {"main": Decimal(8), "annex": Decimal(2)}], ids=["all", "by bench"])
def test_more_in_one_budget_leaves_the_others(hours):
    budgets = Budgets(hours, Decimal(50), None, Decimal(0))
    before = dict(budgets.limits())
    for budget, limit in before.items():
        assert dict(budgets.with_more(budget, Decimal(5)).limits()) == before | {budget: limit + 5}


def test_what_has_no_limit_is_no_pot():
    assert dict(Budgets().limits()) == {}
    assert dict(Budgets(shop_amount=Decimal(1)).limits()) == {Budget(BudgetKind.SHOP): Decimal(1)}
