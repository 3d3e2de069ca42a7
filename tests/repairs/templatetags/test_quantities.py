"""Quantities in templates."""

from __future__ import annotations

from decimal import Decimal

from repairs.templatetags.quantities import in_stock, so_many, so_much


def test_a_count_is_said_with_its_unit():
    assert so_many(Decimal(40), "tube") == "40 tubes"
    assert so_many(2, "each", "pad") == "2 pads"


def test_a_use_is_said_as_it_is_poured():
    assert in_stock(Decimal("11.92"), "bottle") == "about 12 bottles"
    assert so_much(Decimal("0.04"), "bottle", "key oil") == "a little key oil"
