"""The database answers as the rules do, of rows made by hand: every step of an order, every amount, each limit."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from repairs.models import ShopOrder, StockMove
from repairs.models.order_money import COMMITTED
from repairs.rules.shops import Limits, committed_amount, waits_for
from tests.factories import NOW, new_nonce
from tests.repairs.money_makers import make_budget, make_item, make_order, make_stuck_instrument

pytestmark = pytest.mark.django_db
D = Decimal
LIMITS = Limits(work=D(150), trip=D(40))
HOUR = timedelta(hours=1)
AMOUNTS = st.sampled_from([None, D(0), D(40), D("40.01"), D(90), D("90.10"), D(150), D("150.01"), D(200)])
STEPS = {
    "asked": {"sent_at": None, "returned_at": None, "called_off_at": None},
    "called off": {"sent_at": None, "returned_at": None, "called_off_at": NOW},
    "away": {"sent_at": NOW, "returned_at": None, "called_off_at": None},
    "back": {"sent_at": NOW, "returned_at": NOW + 2 * HOUR, "called_off_at": None},
}


@st.composite
def columns(draw: st.DrawFn) -> dict[str, object]:
    """An order's columns as they may stand in the database."""
    step, approved = draw(st.sampled_from(sorted(STEPS))), draw(AMOUNTS)
    is_refused = draw(st.booleans())
    return STEPS[step] | {
        "expected_low_amount": None,
        "expected_high_amount": draw(AMOUNTS),
        "estimate_amount": draw(AMOUNTS),
        "trip_amount": draw(AMOUNTS),
        "is_estimate_only": draw(st.booleans()),
        "approved_amount": approved,
        "approved_at": None if approved is None else NOW + draw(st.sampled_from([1, 2, 3])) * HOUR,
        "refused_at": NOW if is_refused else None,
        "invoice_amount": draw(AMOUNTS) if step == "back" else None,
    }


@pytest.mark.parametrize("examples", [50, pytest.param(300, marks=pytest.mark.drill)])
def test_the_database_waits_and_commits_as_the_rules_do(school, examples):
    order = make_order(instrument=make_stuck_instrument(school=school))
    other = make_order(instrument=make_stuck_instrument(school=school))
    budget, item = make_budget(school), make_item()
    StockMove.objects.create(
        item=item, why="received", quantity=1, after_quantity=1, amount=D("309.90"), budget=budget, nonce=new_nonce(),
        at=NOW, actor=order.asked_by,
    )  # fmt: skip

    @settings(max_examples=examples, deadline=None)
    @given(mine=columns(), its=columns(), has_budget=st.booleans())
    def hold(mine, its, has_budget):
        for row, fields in ((order, mine), (other, its)):
            by = {
                "approved_by": fields["approved_at"] and order.asked_by,
                "refused_by": fields["refused_at"] and order.asked_by,
            }
            ShopOrder.objects.filter(pk=row.pk).update(**fields, **by, budget=budget if has_budget else None)
        fresh = ShopOrder.objects.with_budget_left().annotate(committed=COMMITTED).get(pk=order.pk)
        left = budget.amount - D("309.90") - committed_amount(ShopOrder.objects.get(pk=other.pk).money)
        assert fresh.budget_left == (left if has_budget else None)
        assert fresh.committed == committed_amount(fresh.money)
        assert ShopOrder.objects.get(pk=order.pk).money == fresh.money
        is_waiting = ShopOrder.objects.filter(pk=order.pk).waiting(LIMITS).exists()
        assert is_waiting == (waits_for(fresh.money, LIMITS) is not None)

    hold()
