"""Approval above a limit, and how shops compare: figures worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from repairs.rules.shops import OrderFact, needs_approval, shop_records

D = Decimal


def order(**overrides) -> OrderFact:
    fields = {
        "shop": "Brook Street", "work": "dent_work", "days": 10.0, "amount": D(100), "estimate": D(80),
        "days_promised": 14.0, "has_passed": True,
    }  # fmt: skip
    return OrderFact(**(fields | overrides))


@pytest.mark.parametrize(
    ("amount", "approved", "answer"),
    [
        (None, None, False),
        (D(150), None, False),
        (D("150.01"), None, True),
        (D(200), D(200), False),
        (D(201), D(200), True),
    ],
)
def test_an_approval_is_asked_above_the_limit_and_above_what_was_approved(amount, approved, answer):
    assert needs_approval(amount=amount, limit=D(150), approved=approved) is answer


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
