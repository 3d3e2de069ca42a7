"""What budgets have left, and which one pays."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from repairs.models import StockMove
from repairs.selectors.budgets import budgets_of, budgets_to_choose, usual_budget
from repairs.services.orders import approve_order, note_estimate
from tests.factories import NOW, TODAY, make_director, make_school, new_nonce
from tests.repairs.money_makers import (
    make_budget,
    make_item,
    make_order,
    make_returned_order,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
D = Decimal


def test_committed_is_what_open_orders_may_come_to_and_spent_what_was_billed_or_bought(school):
    budget = make_budget(school)
    fields = {"budget": budget, "purchase_order": "PO"}
    expected = make_order(instrument=make_stuck_instrument(school=school), expected_high_amount=D(80), **fields)
    approved = make_order(instrument=make_stuck_instrument(school=school), **fields)
    note_estimate(order=approved, amount=D(160), on=TODAY, actor=approved.asked_by, at=NOW)
    approve_order(order=approved, amount=D("170.10"), actor=make_director(school), at=NOW)
    make_order(instrument=make_stuck_instrument(school=school), is_estimate_only=True, trip_amount=D(25), **fields)
    make_returned_order(instrument=make_stuck_instrument(school=school), amount=75, **fields)
    make_order(instrument=make_stuck_instrument(school=school))
    StockMove.objects.create(
        item=make_item(), why="received", quantity=3, after_quantity=3, amount=D("20.20"), budget=budget,
        nonce=new_nonce(), at=NOW, actor=expected.asked_by,
    )  # fmt: skip
    found = budgets_of(make_director(school)).get()
    assert (found.committed, found.spent, found.left) == (D("275.10"), D("95.20"), D("129.70"))


def test_the_only_budget_of_today_pays_unless_somebody_says_otherwise(school):
    assert usual_budget(school.pk, today=TODAY) is None
    past = make_budget(school, begins_on=TODAY - timedelta(days=9), ends_on=TODAY - timedelta(days=1))
    make_budget(make_school())
    only = make_budget(school)
    assert usual_budget(school.pk, today=TODAY) == only
    assert list(budgets_to_choose(school.pk, today=TODAY)) == [only]
    assert set(budgets_to_choose(school.pk, today=TODAY, now=past.pk)) == {only, past}
    make_budget(school, fund="Booster club")
    assert usual_budget(school.pk, today=TODAY) is None
