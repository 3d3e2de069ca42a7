"""Bounds of stock: figures worked by hand; common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.models import StockItem, StockMove
from repairs.rules.bounds import (
    LARGEST_MOVE,
    LEAST,
    MOST,
    MOST_EACH,
    MOST_ON_RECORD,
    MOST_PAID,
    is_quantity,
    price_each,
)

D = Decimal


@pytest.mark.parametrize(
    ("quantity", "is_one"),
    [("0", False), ("0.0009", False), ("0.001", True), ("100000", True), ("100000.001", False), ("-1", False)],
)
def test_a_quantity_is_more_than_none_and_no_slip(quantity, is_one):
    assert is_quantity(D(quantity)) is is_one


def test_none_may_be_counted():
    assert is_quantity(D(0), least=D(0))
    assert not is_quantity(D("-0.001"), least=D(0))


def test_the_price_of_one_is_rounded_to_cents_and_none_where_nothing_costs_that_much():
    assert price_each(paid=D(22), quantity=D(4)) == D("5.50")
    assert price_each(paid=D("0.10"), quantity=D(3)) == D("0.03")
    assert price_each(paid=MOST_EACH, quantity=D(1)) == MOST_EACH
    assert price_each(paid=D(100_000), quantity=D(1)) is None
    assert price_each(paid=D(999_999), quantity=D("0.001")) is None


def most_of(model: type, column: str) -> D:
    field = model._meta.get_field(column)
    return D(10) ** (field.max_digits - field.decimal_places) - D(10) ** -field.decimal_places


@given(
    paid=st.decimals(min_value=0, max_value=MOST_PAID, places=2),
    quantity=st.decimals(min_value=LEAST, max_value=MOST, places=3),
)
def test_no_price_is_too_long_for_its_column(paid, quantity):
    each = price_each(paid=paid, quantity=quantity)
    assert each is None or 0 <= each <= MOST_EACH


def test_every_bound_fits_its_column():
    assert most_of(StockItem, "price_amount") >= MOST_EACH
    assert most_of(StockItem, "quantity") >= MOST_ON_RECORD
    assert most_of(StockMove, "amount") >= MOST_PAID
    assert most_of(StockMove, "quantity") == LARGEST_MOVE >= MOST + MOST_ON_RECORD
