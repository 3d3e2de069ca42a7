"""Double entry: every entry adds up to nothing, and a reversal leaves nothing behind."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.models import LedgerEntry, Posting
from loans.rules.ledger import (
    LEAST,
    MOST,
    MOVES,
    Account,
    Sort,
    in_cents,
    in_dollars,
    most_of,
    opposite,
    owed_for_loss,
    postings,
    totals,
)

amounts = st.decimals(min_value=Decimal("0.01"), max_value=MOST, places=2)
sorts = st.sampled_from(sorted(MOVES))


@given(st.lists(st.tuples(sorts, amounts)))
def test_whatever_is_entered_balances(entered):
    posted = [postings(sort, amount) for sort, amount in entered]
    assert all(sum(one.values()) == 0 and len(one) == 2 for one in posted)
    sums = totals(pair for one in posted for pair in one.items())
    assert sum(sums.values()) == 0
    back = totals(pair for one in posted for pair in (*one.items(), *opposite(one).items()))
    assert set(back.values()) <= {0}


def test_a_family_that_is_charged_waived_and_paid_back_ends_at_nothing():
    # A worked example of our own, by the rules of double entry: fee 100, 40 waived, pays 80, 20 is paid back.
    entered = [(Sort.FEE, "100"), (Sort.WAIVER, "40"), (Sort.PAYMENT, "80"), (Sort.REFUND, "20")]
    sums = totals(pair for sort, amount in entered for pair in postings(sort, Decimal(amount)).items())
    assert sums == {Account.FAMILY: 0, Account.FEES: -100, Account.WAIVED: 40, Account.CASH: 60}


@pytest.mark.parametrize("amount", ["0", "-1", "0.005", "100000.00"])
def test_what_is_no_amount_is_not_posted(amount):
    with pytest.raises(ValueError, match="not an amount"):
        postings(Sort.FEE, Decimal(amount))
    assert [postings(Sort.FEE, most)[Account.FAMILY] for most in (LEAST, MOST)] == [LEAST, MOST]


@given(amounts)
def test_cents_are_whole_and_lose_nothing(amount):
    assert in_dollars(in_cents(amount)) == amount
    with pytest.raises(ValueError, match="parts of a cent"):
        in_cents(amount + Decimal("0.001"))


def test_a_reversal_has_no_postings_of_its_own():
    with pytest.raises(ValueError, match="reverses"):
        postings(Sort.REVERSAL, Decimal(1))


@pytest.mark.parametrize(
    ("sort", "owed", "most"),
    [
        (Sort.REFUND, "-12.50", "12.50"), (Sort.REFUND, "3", "0"),
        (Sort.WAIVER, "40", "40"), (Sort.WAIVER, "-1", "0"),
        (Sort.PAYMENT, "0", MOST), (Sort.FEE, "-5", MOST),
    ],
)  # fmt: skip
def test_nobody_is_paid_back_or_waived_more_than_there_is(sort, owed, most):
    assert most_of(sort, owed=Decimal(owed)) == Decimal(most)


@pytest.mark.parametrize(
    ("charged", "repair", "value", "kept"),
    [("600", "80", "500", "80"), ("600", "900", "500", "500"), ("300", "900", "500", "300"), ("600", "0", "500", "0")],
)
def test_once_found_only_damage_stays_owed(charged, repair, value, kept):
    found = owed_for_loss(charged=Decimal(charged), repair_cost=Decimal(repair), value=Decimal(value))
    assert found == Decimal(kept)


def test_rows_have_the_words_of_the_rule():
    for model, column, words in ((LedgerEntry, "sort", Sort), (Posting, "account", Account)):
        assert [value for value, _ in model._meta.get_field(column).choices] == [one.value for one in words]
