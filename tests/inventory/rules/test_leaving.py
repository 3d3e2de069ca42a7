"""Approval by limit. Common practice, no source: a limit belongs to the smaller side, as for repairs."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.rules.leaving import APPROVE, APPROVE_LARGE, amount_at_stake, approved_by_whom


@pytest.mark.parametrize(
    ("amounts", "largest"), [([], 0), ([None, Decimal(3)], 3), ([Decimal(2), Decimal(9), None], 9)]
)
def test_the_largest_known_amount_counts(amounts, largest):
    assert amount_at_stake(amounts) == largest


@pytest.mark.parametrize(("amount", "who"), [("1000.00", APPROVE), ("1000.01", APPROVE_LARGE), ("0", APPROVE)])
def test_above_the_limit_the_district_approves(amount, who):
    assert approved_by_whom(Decimal(amount), large_above=Decimal(1000)) == who
