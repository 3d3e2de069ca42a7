"""Estimates, approvals and bills of orders."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from repairs.models import ShopOrder
from repairs.selectors.shops import approval_limit
from repairs.services.orders import (
    note_estimate,
    note_invoice,
    send_to_shop,
)
from tests.factories import NOW, TODAY, make_school
from tests.repairs.money_makers import make_budget, make_order, make_returned_order, make_sent_order, where

pytestmark = pytest.mark.django_db
D = Decimal
LATER = NOW + timedelta(days=9)


def test_at_or_below_the_limit_it_just_goes():
    order = make_order(expected_low_amount=D(40), expected_high_amount=approval_limit())
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert where(order) == "at_shop"


def test_estimates_and_bills_have_their_time():
    away, back = make_sent_order(), make_returned_order(days=9)
    for refused in (
        lambda: note_estimate(order=back, amount=D(5), on=TODAY, actor=back.asked_by, at=LATER),
        lambda: note_estimate(order=away, amount=D(-5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=away, amount=D(5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=back, amount=D(-5), on=TODAY, actor=back.asked_by, at=LATER),
    ):
        with pytest.raises(RefusedError):
            refused()
    budget = make_budget(back.instrument.school)
    billed = note_invoice(
        order=back, amount=D(210), number="B-7", on=TODAY, actor=back.asked_by, at=LATER, budget=budget,
        purchase_order="PO-12",
    )  # fmt: skip
    assert (billed.invoice_amount, billed.invoice_number) == (210, "B-7")
    assert (billed.budget, billed.purchase_order) == (budget, "PO-12")


def test_a_bill_is_not_paid_from_another_school_s_budget():
    back = make_returned_order(days=9)
    with pytest.raises(RefusedError, match="another school"):
        note_invoice(
            order=back, amount=D(9), on=TODAY, actor=back.asked_by, at=LATER, budget=make_budget(make_school())
        )
    assert ShopOrder.objects.get().invoice_amount is None
