from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.money import cents, dollars

pytestmark = pytest.mark.pure


@pytest.mark.parametrize(
    ("amount", "said"),
    [
        (Decimal("1234.50"), "$1,234.50"),
        (Decimal(9), "$9"),
        (Decimal("-3.2"), "−$3.20"),
        (0, "$0"),
        (None, "—"),
        (Decimal("0.005"), "$0.01"),
    ],
)
def test_an_amount_is_said_as_a_person_writes_it(amount, said):
    assert dollars(amount) == said


@given(st.decimals(min_value=-(10**7), max_value=10**7, places=4))
def test_rounding_to_the_cent_moves_by_half_a_cent_at_most(amount):
    assert abs(cents(amount) - amount) <= Decimal("0.005")
