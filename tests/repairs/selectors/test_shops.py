"""Which orders are late, wait for an approval or came back, and how shops did."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.services.care import record_play_test
from repairs.models import Shop
from repairs.selectors.shops import (
    late_orders,
    open_orders,
    orders_back,
    orders_to_approve,
    play_test_since,
    records,
    warranty_of,
)
from repairs.services.orders import tie_play_test
from tests.factories import NOW, TODAY, make_director
from tests.repairs.money_makers import (
    make_order,
    make_returned_order,
    make_sent_order,
    make_shop,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
D = Decimal


def test_late_ones_come_first_and_only_the_own_school_s(school):
    instruments = [make_stuck_instrument(school=school) for _ in range(3)]
    waiting = make_order(instrument=instruments[0], expected_high_amount=D(200))
    on_time = make_sent_order(instrument=instruments[1], promised_in=20)
    late = make_sent_order(instrument=instruments[2], promised_in=1)
    make_sent_order(promised_in=1)
    director, later = make_director(school), TODAY + timedelta(days=5)
    assert list(open_orders(director, today=later)) == [late, waiting, on_time]
    assert late_orders(director, today=later) == [late]
    assert list(orders_to_approve(director)) == [waiting]


def test_what_came_back_without_a_bill_comes_first(school):
    billed = make_returned_order(instrument=make_stuck_instrument(school=school), amount=80, days=9)
    unbilled = make_returned_order(instrument=make_stuck_instrument(school=school))
    assert orders_back(make_director(school)) == [unbilled, billed]


def test_how_a_shop_did_counts_days_bills_and_play_tests():
    shop = make_shop(name="Brook Street")
    first = make_returned_order(shop=shop, amount=100, days=5)
    make_returned_order(shop=shop, amount=140, days=11, promised_in=7)
    test = record_play_test(
        instrument=first.instrument, result="pass", actor=first.asked_by, at=NOW + timedelta(days=6)
    )
    tie_play_test(order=first, play_test=test, actor=first.asked_by, at=NOW + timedelta(days=6))
    make_shop()
    record = records(shop)[0]
    assert (record.orders, record.median_days, record.median_amount) == (2, 8.0, D("120.00"))
    assert (record.on_time, record.promised) == (1, 2)
    assert (record.passed, record.played) == (1, 1)
    assert records(Shop.objects.exclude(pk=shop.pk).first()) == []


def test_a_warranty_runs_until_its_last_day():
    order = make_returned_order()
    assert warranty_of(order.instrument, today=order.warranty_until) == order
    assert warranty_of(order.instrument, today=order.warranty_until + timedelta(days=1)) is None


def test_the_first_play_test_after_it_came_back_counts():
    order = make_returned_order(days=5)
    record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=NOW)
    assert play_test_since(order) is None
    test = record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=order.returned_at)
    assert play_test_since(order) == test
    assert play_test_since(make_order()) is None
