"""Orders as pages see them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.services.care import record_play_test
from repairs.models import Shop
from repairs.selectors.shops import (
    asking,
    back_lines,
    findings_in_words,
    late_orders,
    line_of,
    open_lines,
    orders_to_approve,
    play_test_since,
    records,
    warranty_of,
    work_name,
)
from repairs.services.shops import bring_back, call_off, note_invoice, send_to_shop, tie_play_test
from tests.factories import NOW, TODAY, make_director, make_inspection, make_instrument
from tests.repairs.money_makers import finding_of, make_order, make_shop, make_stuck_instrument

pytestmark = pytest.mark.django_db
LIMIT = Decimal(150)
D = Decimal


def sent(*, promised_in: int = 7, **fields):
    order = make_order(**fields)
    promised = TODAY + timedelta(days=promised_in)
    return send_to_shop(order=order, actor=order.asked_by, at=NOW, promised_on=promised)


def back(*, days: int = 5, amount: int | None = None, **fields):
    order = sent(**fields)
    at = NOW + timedelta(days=days)
    order = bring_back(
        order=order, what_was_done="Done", actor=order.asked_by, at=at, warranty_until=(at + timedelta(days=30)).date()
    )
    if amount is not None:
        order = note_invoice(order=order, amount=D(amount), on=at.date(), actor=order.asked_by, at=at)
    return order


def step(order, *, today=TODAY):
    return line_of(order, today=today, limit=LIMIT).step


def test_an_order_says_where_it_stands():
    assert step(make_order()) == "Ready to send"
    assert step(make_order(expected_high_amount=D(200))) == "Waits for an approval"
    away = sent(promised_in=3)
    assert step(away) == "At the shop"
    assert step(away, today=TODAY + timedelta(days=3)) == "At the shop"  # the promised day itself is not late
    assert step(away, today=TODAY + timedelta(days=4)) == "1 day late"
    assert step(away, today=TODAY + timedelta(days=9)) == "6 days late"
    assert step(back()) == "Back, bill to come"
    assert step(back(amount=80)) == "Back and billed"
    dropped = make_order()
    assert step(call_off(order=dropped, because="No", actor=dropped.asked_by, at=NOW)) == "Called off"


def test_late_ones_come_first_and_only_the_own_school_s(school):
    horns = [make_stuck_instrument(school=school) for _ in range(3)]
    waiting = make_order(instrument=horns[0], expected_high_amount=D(200))
    on_time = sent(instrument=horns[1], promised_in=20)
    late = sent(instrument=horns[2], promised_in=1)
    sent(promised_in=1)
    director, later = make_director(school), TODAY + timedelta(days=5)
    assert [line.order for line in open_lines(director, today=later, limit=LIMIT)] == [late, waiting, on_time]
    assert late_orders(director, today=later) == [late]
    assert orders_to_approve(director, limit=LIMIT) == [waiting]


def test_what_came_back_without_a_bill_comes_first(school):
    billed = back(instrument=make_stuck_instrument(school=school), amount=80, days=9)
    unbilled = back(instrument=make_stuck_instrument(school=school))
    found = back_lines(make_director(school), today=TODAY, limit=LIMIT)
    assert [line.order for line in found] == [unbilled, billed]


def test_how_a_shop_did_counts_days_bills_and_play_tests():
    shop = make_shop(name="Brook Street")
    first = back(shop=shop, amount=100, days=5)
    back(shop=shop, amount=140, days=11, promised_in=7)
    test = record_play_test(
        instrument=first.instrument, result="pass", actor=first.asked_by, at=NOW + timedelta(days=6)
    )
    tie_play_test(order=first, play_test=test, actor=first.asked_by, at=NOW + timedelta(days=6))
    make_shop()
    record = records(shop)[0].record
    assert (record.orders, record.median_days, record.median_amount) == (2, 8.0, D("120.00"))
    assert (record.on_time, record.promised) == (1, 2)
    assert (record.passed, record.played) == (1, 1)
    assert records(Shop.objects.exclude(pk=shop.pk).first()) == []


def test_a_question_is_filled_from_what_the_plan_sends_out():
    horn = make_instrument()
    make_inspection(instrument=horn, findings=[("leadpipe", "red_rot", "severe")])
    filled = asking(horn)
    assert filled.findings == (finding_of(horn).pk,)
    assert "red rot" in filled.question.lower()
    assert 0 < filled.low_amount <= filled.high_amount


def test_a_horn_that_the_bench_puts_right_itself_asks_nothing():
    assert asking(make_instrument()).question == ""


def test_findings_are_said_in_words():
    horn = make_stuck_instrument()
    assert "slide" in findings_in_words(horn)[0][1]
    assert findings_in_words(horn, ids=[]) == []
    assert work_name("no_such_work") == "Other work"


def test_a_warranty_runs_until_its_last_day():
    order = back()
    assert warranty_of(order.instrument, today=order.warranty_until) == order
    assert warranty_of(order.instrument, today=order.warranty_until + timedelta(days=1)) is None


def test_the_first_play_test_after_it_came_back_counts():
    order = back(days=5)
    record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=NOW)
    assert play_test_since(order) is None
    test = record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=order.returned_at)
    assert play_test_since(order) == test
    assert play_test_since(make_order()) is None
