"""Where orders stand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from repairs.pages.shops import line_of
from repairs.services.orders import approve_order, bring_back, call_off, note_estimate, note_invoice, send_to_shop
from tests.factories import NOW, TODAY, make_director
from tests.repairs.money_makers import (
    make_order,
    make_returned_order,
    make_sent_order,
)

pytestmark = pytest.mark.django_db


def step(order, *, today=TODAY):
    return line_of(order, today=today)["step"]


def test_an_order_says_where_it_stands():
    assert step(make_order()) == "Ready to send"
    assert step(make_order(expected_high_amount=None)) == "Waiting for approval"
    assert step(make_order(expected_high_amount=Decimal(200))) == "Waiting for an estimate"
    away = make_sent_order(promised_in=3)
    assert step(away) == "At the shop"
    assert step(away, today=TODAY + timedelta(days=3)) == "At the shop"  # the promised day itself is not late
    assert step(away, today=TODAY + timedelta(days=4)) == "1 day late"
    assert step(away, today=TODAY + timedelta(days=9)) == "6 days late"
    assert step(make_returned_order()) == "Back, bill to come"
    assert step(make_returned_order(amount=80)) == "Back and billed"
    assert step(make_returned_order(amount=81)) == "Bill waiting for approval"
    dropped = make_order()
    assert step(call_off(order=dropped, because="No", actor=dropped.asked_by, at=NOW)) == "Canceled"


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
