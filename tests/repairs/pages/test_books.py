"""The bookkeeper's rows."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from repairs.models import ShopOrder
from repairs.pages.books import HEADER, book_rows
from repairs.services.orders import approve_order, note_estimate
from tests.factories import NOW, TODAY, make_director
from tests.repairs.money_makers import make_budget, make_order, make_returned_order, make_stuck_instrument

pytestmark = pytest.mark.django_db


def rows():
    return [dict(zip(HEADER, row, strict=True)) for row in book_rows(ShopOrder.objects.for_table().order_by("pk"))]


def test_an_order_is_a_row_with_its_money_its_people_and_what_it_waits_for(school):
    budget = make_budget(school)
    order = make_order(
        instrument=make_stuck_instrument(school=school), budget=budget, purchase_order="PO-1",
        expected_high_amount=Decimal(90),
    )  # fmt: skip
    director = make_director(school)
    note_estimate(order=order, amount=Decimal(200), on=TODAY, actor=order.asked_by, at=NOW)
    approve_order(order=order, amount=Decimal(210), actor=director, at=NOW)
    note_estimate(order=order, amount=Decimal(260), on=TODAY, actor=order.asked_by, at=NOW)
    row = rows()[0]
    assert {name: row[name] for name in ("number", "purchase_order", "fund", "school", "instrument", "expected")} == {
        "number": order.pk, "purchase_order": "PO-1", "fund": "Band fund 2026", "school": str(school),
        "instrument": order.instrument.asset_number, "expected": Decimal(90),
    }  # fmt: skip
    assert (row["estimate"], row["approved"], row["approved_by"], row["approved_on"]) == (
        260,
        210,
        str(director),
        TODAY,
    )
    assert row["waits_for"] == "The estimate of $260 is above the approved $210."
    assert (row["bill"], row["back_on"], row["canceled_on"]) == (None, None, None)


def test_a_billed_one_says_the_days_and_the_bill():
    make_returned_order(days=5, amount=80)
    row = rows()[0]
    assert (row["sent_on"], row["back_on"], row["bill"], row["bill_on"]) == (
        TODAY, TODAY + timedelta(days=5), 80, TODAY + timedelta(days=5),
    )  # fmt: skip
    assert (row["fund"], row["approved_by"], row["waits_for"]) == ("", "", "")
