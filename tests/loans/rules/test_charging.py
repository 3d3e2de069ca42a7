"""Wear or damage, and the cap: cases worked by hand; what a cap may never do is drawn."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.catalog.schema import Cause, Severity
from loans.rules.charging import Cap, Ruling, months_out, ruling_of, share_of, steps_worse
from loans.rules.compare import Change, Compared

L, M, S = Severity.LIGHT, Severity.MODERATE, Severity.SEVERE
money = st.decimals(min_value=0, max_value=5000, places=2)


def changed(before: Severity | None, after: Severity | None, cause: Cause | None) -> Compared:
    change = Change.NEW if before is None else Change.WORSE
    return Compared("bell", "", "x", before, after, change, cause)


# Common practice of school programs, no source: dents are damage, worn pads and lacquer are not.
@pytest.mark.parametrize(
    ("before", "after", "cause", "months", "ruling"),
    [
        (None, L, Cause.DAMAGE, 60, Ruling.DAMAGE),
        (None, L, Cause.WEAR, 0, Ruling.WEAR),
        (None, M, Cause.WEAR, 11, Ruling.OPEN),
        (None, M, Cause.WEAR, 12, Ruling.WEAR),
        (L, M, Cause.EITHER, 5, Ruling.OPEN),
        (L, M, Cause.EITHER, 6, Ruling.WEAR),
        (None, S, Cause.EITHER, 17, Ruling.OPEN),
        (None, S, Cause.EITHER, 18, Ruling.WEAR),
        (None, L, None, 60, Ruling.OPEN),
    ],
)
def test_the_time_out_explains_wear_step_by_step(before, after, cause, months, ruling):
    assert ruling_of(changed(before, after, cause), months=months, step_months=6) is ruling


def test_what_is_no_worse_is_not_ruled_on():
    same = Compared("bell", "", "x", L, L, Change.SAME, None)
    assert ruling_of(same, months=9, step_months=6) is None
    assert steps_worse(same) == 0
    gone = Compared("bell", "", "x", L, None, Change.SAME, None)
    assert (steps_worse(gone), steps_worse(changed(None, None, None))) == (0, 0)
    assert [steps_worse(changed(before, S, None)) for before in (None, L, M)] == [3, 2, 1]


@given(st.dates(date(2020, 1, 1), date(2029, 12, 31)), st.dates(date(2020, 1, 1), date(2029, 12, 31)))
def test_months_are_counted_one_by_one(one, other):
    lent, back = min(one, other), max(one, other)
    later = [(lent.year + (lent.month - 1 + n) // 12, (lent.month - 1 + n) % 12 + 1, lent.day) for n in range(1, 121)]
    assert months_out(lent_on=lent, back_on=back) == sum(day <= (back.year, back.month, back.day) for day in later)


@given(st.builds(Cap, cost=money, value=money, charged=money))
def test_nobody_is_ever_charged_more_than_the_repair_or_than_the_instrument_was_worth(cap):
    assert 0 <= cap.amount <= cap.cost
    assert cap.amount <= max(Decimal(0), cap.value - cap.charged)
    assert cap.amount in {Decimal(0), cap.cost, cap.value - cap.charged}


@given(money, st.dictionaries(st.integers(1, 9), money, min_size=1), st.data())
def test_the_shares_of_a_bill_never_come_to_more_than_the_bill(bill, weights, data):
    chosen = data.draw(st.sets(st.sampled_from(sorted(weights))))
    mine = share_of(bill, weights=weights, chosen=chosen)
    rest = share_of(bill, weights=weights, chosen=set(weights) - chosen)
    assert mine >= 0
    assert rest >= 0
    assert bill - Decimal("0.02") < mine + rest <= bill
    assert share_of(bill, weights=weights, chosen=set(weights)) == bill


def test_a_bill_is_parted_by_what_each_would_cost_alone():
    assert share_of(Decimal(90), weights={1: Decimal(10), 2: Decimal(20)}, chosen={1}) == 30
    assert share_of(Decimal(90), weights={1: Decimal(0), 2: Decimal(0)}, chosen={1}) == 45
    assert share_of(Decimal(90), weights={1: Decimal("0.10"), 2: Decimal("0.20")}, chosen={1}) == 30, (
        "below a dollar in all"
    )
    assert share_of(Decimal(90), weights={}, chosen=()) == 0


def test_the_value_limits_only_what_costs_more_than_is_left_of_it():
    by_value = [Cap(cost=Decimal(cost), value=Decimal(100), charged=Decimal(40)).is_by_value for cost in (59, 60, 61)]
    assert by_value == [False, False, True]
