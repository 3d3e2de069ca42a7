"""Where orders stand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from repairs.pages.shops import line_of
from repairs.services.orders import call_off
from tests.factories import NOW, TODAY
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
