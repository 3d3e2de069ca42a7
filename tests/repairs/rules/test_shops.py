"""Approval of an order's money, and how shops compare: figures worked by hand."""

from __future__ import annotations

from decimal import Decimal
from itertools import count

import pytest

from repairs.rules.shops import (
    Limits,
    OrderFact,
    OrderMoney,
    Wait,
    allowed_amount,
    committed_amount,
    shop_records,
    wait_words,
    waits_for,
)

D = Decimal
KEYS = count(1)


def order(**overrides) -> OrderFact:
    fields = {
        "shop": "Brook Street", "work": "dent_work", "days": 10.0, "amount": D(100), "estimate": D(80),
        "days_promised": 14.0, "has_passed": True, "key": next(KEYS),
    }  # fmt: skip
    return OrderFact(**(fields | overrides))


LIMITS = Limits(work=D(150), trip=D(50))
TRIP = {"is_estimate_only": True, "trip": D(40)}
AWAY, BACK = {"is_sent": True}, {"is_sent": True, "is_back": True}


def why(**fields) -> Wait | None:
    return waits_for(OrderMoney(**fields), LIMITS)


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({}, Wait.NO_AMOUNT),
        ({"approved": D(90)}, None),
        ({"expected": D(150)}, None),
        ({"expected": D("150.01")}, Wait.ESTIMATE_FIRST),
        ({"expected": D(400), "approved": D(400)}, Wait.ESTIMATE_FIRST),
        ({"expected": D(400), "estimate": D(150)}, None),
        ({"estimate": D("150.01")}, Wait.ESTIMATE),
        ({"estimate": D(200), "approved": D(200)}, None),
        ({"estimate": D(201), "approved": D(200)}, Wait.ESTIMATE),
        ({"estimate": D(201), "approved": D(200), **AWAY}, Wait.ESTIMATE),
        ({"estimate": D(140), "approved": D(90)}, None),
    ],
)
def test_no_work_above_the_limit_without_an_estimate_that_was_approved(fields, reason):
    assert why(**fields) is reason


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        (TRIP, None),
        (TRIP | {"trip": D(50)}, None),
        (TRIP | {"trip": D(51)}, Wait.TRIP),
        (TRIP | {"trip": D(51), "approved": D(51)}, None),
        (TRIP | {"expected": D(900)}, None),
        (TRIP | {"estimate": D(900)}, None),  # it is sent for a real one
        (TRIP | AWAY, None),
        (TRIP | AWAY | {"estimate": D(150)}, None),
        (TRIP | AWAY | {"estimate": D(151)}, Wait.ESTIMATE),
        (TRIP | AWAY | {"estimate": D(151), "approved": D(160)}, None),
    ],
)
def test_a_trip_for_an_estimate_waits_only_above_its_cap_and_away_for_the_work(fields, reason):
    assert why(**fields) is reason


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"expected": D(80), "budget_left": D(80)}, None),
        ({"expected": D(80), "budget_left": D("79.99")}, Wait.BUDGET),
        ({"expected": D(80), "budget_left": D(-5), "approved": D(80)}, None),
        ({"expected": D(80), "budget_left": D(10), **AWAY}, None),  # ordered already
        (TRIP | {"budget_left": D(39)}, Wait.BUDGET),
        (TRIP | AWAY | {"estimate": D(90), "budget_left": D(89)}, Wait.BUDGET),
        (TRIP | AWAY | {"budget_left": D(0)}, None),
    ],
)
def test_above_its_budget_the_least_amount_needs_an_approval_before_it_is_ordered(fields, reason):
    assert why(**fields) is reason


@pytest.mark.parametrize(
    ("fields", "allowed"),
    [
        ({"expected": D(80)}, 80),
        ({"estimate": D(90), "expected": D(80)}, 90),
        ({"estimate": D(90), "approved": D(120)}, 120),
        ({"estimate": D(200), "approved": D(220)}, 220),
        ({"estimate": D(200)}, 150),  # went up while away, never approved
        ({}, 0),
        (TRIP, 40),
        (TRIP | {"estimate": D(300), "approved": D(300)}, 40),  # no work was ordered
        (TRIP | {"trip": D(80)}, 50),
        (TRIP | {"trip": D(80), "approved": D(80)}, 80),
        (TRIP | {"approved": D(95), "is_approved_since_back": True}, 95),
    ],
)
def test_a_bill_waits_above_what_was_approved_or_else_what_was_known(fields, allowed):
    assert allowed_amount(OrderMoney(**fields, **BACK), LIMITS) == allowed
    assert why(**fields, **BACK) is None
    assert why(**fields, **BACK, bill=D(allowed)) is None
    assert why(**fields, **BACK, bill=D(allowed) + D("0.01")) is Wait.BILL


def test_what_was_refused_or_called_off_waits_for_nobody_s_approval():
    assert why(estimate=D(900), is_refused=True) is None
    assert why(bill=D(900), is_refused=True, **BACK) is None
    assert why(estimate=D(900), is_called_off=True) is None


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "Nobody has said what it may cost."),
        ({"expected": D(400)}, "Up to $400 is expected. Above $150, the shop's own estimate comes first."),
        ({"estimate": D(200)}, "The estimate of $200 is above the limit of $150."),
        ({"estimate": D(260), "approved": D(200)}, "The estimate of $260 is above the approved $200."),
        (TRIP | {"trip": D(80)}, "Trip and bench fee of $80 are above the $50 for an estimate."),
        (TRIP | {"budget_left": D(-5)}, "It may cost $40, and its budget has −$5 left."),
        ({"estimate": D(90), "budget_left": D(20)}, "It may cost $90, and its budget has $20 left."),
        (BACK | TRIP | {"bill": D(60)}, "The bill of $60 is above the $40 for the trip. No work was ordered."),
        (BACK | {"approved": D(200), "bill": D(210)}, "The bill of $210 is above the approved $200."),
        (BACK | {"bill": D(70)}, "The bill is $70, and nobody said what it may cost."),
        (
            BACK | {"estimate": D(200), "bill": D(190)},
            "The bill of $190 is above the limit of $150, and nobody approved it.",
        ),
        (BACK | {"expected": D(80), "bill": D(90)}, "The bill of $90 is above the expected $80."),
        (BACK | {"estimate": D(80), "approved": D(60), "bill": D(90)}, "The bill of $90 is above the estimate of $80."),
        ({"expected": D(80)}, ""),
    ],
)
def test_what_it_waits_for_is_said_with_its_figures(fields, words):
    assert wait_words(OrderMoney(**fields), LIMITS) == words


@pytest.mark.parametrize(
    ("fields", "amount"),
    [
        ({}, 0),
        ({"expected": D(80)}, 80),
        ({"estimate": D(90), "approved": D(120)}, 120),
        ({"estimate": D(90), "approved": D(60)}, 90),
        ({"estimate": D(90), "approved": D(120), "bill": D(75)}, 75),
        ({"estimate": D(90), "is_called_off": True}, 0),
        ({"estimate": D(90), "is_refused": True}, 0),
        ({"estimate": D(90), "is_refused": True, **AWAY}, 90),
        (TRIP | {"estimate": D(90)}, 40),
        (TRIP | AWAY | {"estimate": D(200), "approved": D(200)}, 200),
        (TRIP | BACK | {"estimate": D(200), "approved": D(200)}, 40),
    ],
)
def test_an_order_takes_from_its_budget_the_most_it_may_come_to_until_it_is_billed(fields, amount):
    assert committed_amount(OrderMoney(**fields)) == amount


def test_a_shop_s_record_is_medians_and_counts():
    orders = [
        order(),
        order(days=20.0, amount=D(140), estimate=D(120), has_passed=False),
        order(days=12.0, amount=None, estimate=D(90), days_promised=None, has_passed=None),
    ]
    record = shop_records(orders)[0]
    assert (record.orders, record.median_days, record.longest_days) == (3, 12.0, 20.0)
    assert record.median_amount == D("120.00")
    assert record.over_estimate == D("0.200")  # 240 billed on 200 estimated
    assert (record.on_time, record.promised) == (1, 2)
    assert (record.passed, record.played) == (1, 2)


def test_shops_are_told_apart_by_kind_of_work_and_the_cheaper_comes_first():
    dear = order(shop="Hill Road", amount=D(300))
    other = order(work="overhaul", amount=D(50))
    assert [(one.work, one.shop) for one in shop_records([dear, other, order()])] == [
        ("dent_work", "Brook Street"),
        ("dent_work", "Hill Road"),
        ("overhaul", "Brook Street"),
    ]


def test_nothing_billed_is_no_price():
    record = shop_records([order(amount=None, estimate=None)])[0]
    assert record.median_amount is None
    assert record.over_estimate is None


def test_a_shop_that_has_billed_nothing_comes_before_the_cheapest():
    cheap, free = order(amount=D("0.50")), order(shop="Zeller Lane", amount=None)
    assert [one.shop for one in shop_records([cheap, free])] == ["Zeller Lane", "Brook Street"]


def test_a_promise_kept_to_the_day_is_on_time():
    record = shop_records([order(days=14.0), order(days=14.1), order(days=13.0)])[0]
    assert (record.on_time, record.promised) == (2, 3)


def test_a_return_under_warranty_is_no_cheap_order_of_its_own():
    """By hand: 10 days and 5 again are 15, beside 20; $100 and $140 have a median of $120, the return costs nothing."""
    failed = order(days=10.0, amount=D(100), has_passed=False)
    orders = [
        order(key=900, days=5.0, amount=D(0), estimate=None, has_passed=True, warranty_of=failed.key),
        failed,
        order(days=20.0, amount=D(140)),
    ]
    (record,) = shop_records(orders)
    assert (record.orders, record.came_back) == (2, 1)
    assert (record.median_days, record.longest_days) == (17.5, 20.0)
    assert record.median_amount == D("120.00")
    assert (record.passed, record.played) == (1, 2)  # the first try failed, whatever came of the second
    assert (record.on_time, record.promised) == (1, 2)  # 10 of 14 days, 20 of 14: the way back is not late


def test_a_second_return_adds_to_the_first_order_and_its_bill_to_that_order_s():
    """By hand: 10 + 5 + 3 days, $100 + $0 + $25."""
    first = order(days=10.0, amount=D(100))
    again = order(days=5.0, amount=D(0), warranty_of=first.key)
    third = order(days=3.0, amount=D(25), warranty_of=again.key)
    (record,) = shop_records([third, again, first])
    assert (record.orders, record.came_back, record.median_days, record.median_amount) == (1, 1, 18.0, D("125.00"))


def test_a_return_of_an_order_too_old_to_count_is_left_out_and_an_unbilled_order_stays_unbilled():
    assert shop_records([order(warranty_of=99_999)]) == ()
    first = order(amount=None)
    (record,) = shop_records([first, order(amount=D(5), warranty_of=first.key)])
    assert record.median_amount is None
    assert record.came_back == 1
