"""Which orders are late, wait for an approval or came back, and how shops did."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.services.care import record_play_test
from inventory.services.state import retire
from repairs.models import Shop, ShopOrder
from repairs.selectors.shops import (
    back_unplayed,
    bills_to_come,
    failed_order,
    late_orders,
    open_orders,
    orders_back,
    orders_to_approve,
    play_test_since,
    records,
    warranty_of,
)
from repairs.services.orders import bring_back, return_on_warranty, send_to_shop, tie_play_test
from tests.factories import NOW, TODAY, make_director, new_nonce
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


def test_what_is_back_is_to_be_played_and_billed_until_it_is(school):
    director = make_director(school)
    order = make_returned_order(instrument=make_stuck_instrument(school=school))
    billed = make_returned_order(instrument=make_stuck_instrument(school=school), amount=80, days=9)
    make_returned_order()  # another school's
    assert back_unplayed(director) == [order, billed]
    assert bills_to_come(director) == [order]
    record_play_test(instrument=billed.instrument, result="pass", actor=billed.asked_by, at=NOW + timedelta(days=10))
    retire(instrument=order.instrument, is_retired=True, actor=None, at=NOW)
    assert back_unplayed(director) == []


def test_failed_work_is_the_order_s_until_it_goes_back(school):
    order = make_returned_order(instrument=make_stuck_instrument(school=school))
    tech, at = order.asked_by, NOW + timedelta(days=6)
    passed = record_play_test(instrument=order.instrument, result="pass", actor=tech, at=at)
    failed = record_play_test(instrument=order.instrument, result="fail", note="Stuck", actor=tech, at=at)
    assert failed_order(order.instrument, None) is failed_order(order.instrument, passed) is None
    assert failed_order(order.instrument, failed) == order
    again = return_on_warranty(order=order, nonce=new_nonce(), actor=tech, at=at)
    assert failed_order(order.instrument, failed) is None
    assert bills_to_come(make_director(school)) == [order]
    ShopOrder.objects.filter(pk=again.pk).update(sent_at=at, returned_at=at + timedelta(days=1))
    assert bills_to_come(make_director(school)) == [order]  # none comes for what is made good


def test_a_return_under_warranty_counts_as_soon_as_it_left_again():
    order = make_returned_order(amount=100, days=5)
    tech, at = order.asked_by, NOW + timedelta(days=6)
    again = return_on_warranty(order=order, nonce=new_nonce(), actor=tech, at=at)
    assert [(one.orders, one.came_back) for one in records()] == [(1, 0)]
    send_to_shop(order=again, actor=tech, at=at)
    (record,) = records()
    assert (record.orders, record.came_back, record.median_days, record.median_amount) == (1, 1, 5.0, D("100.00"))
    bring_back(order=again, what_was_done="Done", actor=tech, at=at + timedelta(days=3))
    assert records()[0].median_days == 8.0
