"""What every act on an order begins with."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from repairs.services.orders import call_off, note_estimate, send_to_shop
from tests.factories import NOW, TODAY
from tests.repairs.money_makers import make_order

pytestmark = pytest.mark.django_db


def test_the_first_promise_stays_and_the_latest_is_beside_it():
    first, later = TODAY + timedelta(days=7), TODAY + timedelta(days=20)
    order = make_order()
    note_estimate(order=order, amount=40, on=TODAY, promised_on=first, actor=order.asked_by, at=NOW)
    order = send_to_shop(order=order, promised_on=later, actor=order.asked_by, at=NOW)
    assert (order.first_promised_on, order.promised_on) == (first, later)


def test_no_promise_leaves_what_was_promised():
    first = TODAY + timedelta(days=7)
    order = send_to_shop(order=(asked := make_order(promised_on=first)), actor=asked.asked_by, at=NOW)
    assert (order.first_promised_on, order.promised_on) == (first, first)


def test_nothing_is_done_with_a_canceled_order():
    order = make_order()
    call_off(order=order, because="No", actor=order.asked_by, at=NOW)
    with pytest.raises(RefusedError, match="was canceled"):
        note_estimate(order=order, amount=40, on=TODAY, actor=order.asked_by, at=NOW)
