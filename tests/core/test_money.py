from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

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


@given(st.decimals(min_value=-(10**7), max_value=10**7, places=4))
def test_a_fraction_is_rounded_like_the_decimal_it_is(amount):
    assert cents(Fraction(amount)) == amount.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def test_a_fraction_that_is_no_decimal_is_rounded_exactly():
    just_below_half = Fraction(5, 1000) - Fraction(1, 3 * 10**40)
    assert (cents(just_below_half), cents(Fraction(5, 1000)), cents(-Fraction(5, 1000))) == (
        0,
        Decimal("0.01"),
        Decimal("-0.01"),
    )
