"""One order's story, and its slip."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.services.inspecting import count_accessories
from repairs.models import ShopOrder
from repairs.selectors.order_page import order_page, slip_of
from repairs.services.shops import approve_order, bring_back, note_estimate, note_invoice, send_to_shop
from tests.factories import NOW, TODAY, make_director
from tests.repairs.money_makers import finding_of, make_order, make_stuck_instrument

pytestmark = pytest.mark.django_db
LIMIT = Decimal(150)


@pytest.fixture
def billed():
    """Asked, estimated, approved, sent, back and billed a little above what was approved."""
    order = make_order()
    tech, director = order.asked_by, make_director(order.instrument.school)
    note_estimate(order=order, amount=Decimal(180), on=TODAY, actor=tech, at=NOW)
    approve_order(order=order, amount=Decimal(190), actor=director, at=NOW + timedelta(days=1))
    send_to_shop(order=order, actor=tech, at=NOW + timedelta(days=2))
    bring_back(order=order, what_was_done="Freed", actor=tech, at=NOW + timedelta(days=9))
    on = TODAY + timedelta(days=12)
    return note_invoice(order=order, amount=Decimal(195), number="B-1", on=on, actor=tech, at=NOW + timedelta(days=13))


def test_the_story_is_told_latest_first_with_names_and_money(billed):
    told = [moment.what for moment in order_page(billed, today=TODAY, limit=LIMIT).moments]
    assert told[:2] == ["Bill of $195", "Came back"]
    assert set(told[-2:]) == {"Asked", "They said $180"}
    assert "Approved up to $190" in told


def test_a_bill_above_what_was_approved_is_said_and_a_play_test_is_due(billed):
    page = order_page(billed, today=TODAY, limit=LIMIT)
    assert page.is_over_approved
    assert page.is_play_test_due
    assert not page.is_waiting


def test_an_order_costs_two_queries(billed, django_assert_max_num_queries):
    rows = ShopOrder.objects.for_table().select_related("asked_by", "approved_by", "play_test")
    order = rows.get(pk=billed.pk)
    with django_assert_max_num_queries(2):
        order_page(order, today=TODAY, limit=LIMIT)


def test_a_slip_lists_what_lies_in_the_case_not_what_was_missing():
    horn = make_stuck_instrument()
    order = make_order(instrument=horn, findings=[finding_of(horn).pk])
    rows = list(horn.accessories.all())
    counts = {row.code: row.expected for row in rows} | {rows[0].code: 0}
    count_accessories(instrument=horn, counts=counts, actor=order.asked_by, at=NOW)
    slip = slip_of(order, home="https://horns.example", today=TODAY)
    names = [name for name, _ in slip.accessories]
    assert rows[0].name not in names
    assert rows[1].name in names
    assert len(slip.findings) == 1
