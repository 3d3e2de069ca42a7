"""Estimates, approvals and bills of orders."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import Instrument, Role
from repairs.exceptions import ApprovalNeededError
from repairs.models import ShopOrder
from repairs.selectors.shops import approval_limit
from repairs.services.orders import (
    approve_order,
    bring_back,
    note_estimate,
    note_invoice,
    send_to_shop,
)
from tests.factories import NOW, TODAY, make_user
from tests.repairs.money_makers import (
    make_order,
)

pytestmark = pytest.mark.django_db
D = Decimal
LATER = NOW + timedelta(days=9)


def where(order: ShopOrder) -> str:
    return Instrument.objects.get(pk=order.instrument_id).whereabouts


def make_away(**fields) -> ShopOrder:
    order = make_order(**fields)
    return send_to_shop(order=order, actor=order.asked_by, at=NOW, promised_on=TODAY + timedelta(days=7))


def make_back(**fields) -> ShopOrder:
    order = make_away(**fields)
    return bring_back(order=order, what_was_done="Slide freed.", actor=order.asked_by, at=LATER)


def test_above_the_limit_nothing_is_sent_before_somebody_who_may_has_approved():
    order, dear = make_order(), approval_limit() + 1
    note_estimate(order=order, amount=dear, on=TODAY, actor=order.asked_by, at=NOW)
    with pytest.raises(ApprovalNeededError, match="director or an administrator"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    with pytest.raises(ApprovalNeededError):
        approve_order(order=order, amount=dear, actor=order.asked_by, at=NOW)
    assert where(order) == "in_store"
    director = make_user(Role.DIRECTOR, school=order.instrument.school)
    for wrong in (D(0), dear - 1):
        with pytest.raises(RefusedError):
            approve_order(order=order, amount=wrong, actor=director, at=NOW)
    approve_order(order=order, amount=dear, actor=director, at=NOW)
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    event = Event.objects.get(act="cost_approved")
    assert (event.actor, event.after["amount"]) == (director, str(dear))


def test_an_estimate_above_what_was_approved_asks_again():
    order = make_order()
    director = make_user(Role.DIRECTOR, school=order.instrument.school)
    note_estimate(order=order, amount=D(200), on=TODAY, actor=director, at=NOW)
    approve_order(order=order, amount=D(200), actor=director, at=NOW)
    note_estimate(order=order, amount=D(260), on=TODAY, actor=director, at=NOW)
    with pytest.raises(ApprovalNeededError):
        send_to_shop(order=order, actor=director, at=NOW)


def test_at_or_below_the_limit_it_just_goes():
    order = make_order(expected_low_amount=D(40), expected_high_amount=approval_limit())
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert where(order) == "at_shop"


def test_estimates_and_bills_have_their_time():
    away, back = make_away(), make_back()
    for refused in (
        lambda: note_estimate(order=back, amount=D(5), on=TODAY, actor=back.asked_by, at=LATER),
        lambda: note_estimate(order=away, amount=D(-5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=away, amount=D(5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=back, amount=D(-5), on=TODAY, actor=back.asked_by, at=LATER),
    ):
        with pytest.raises(RefusedError):
            refused()
    billed = note_invoice(order=back, amount=D(210), number="B-7", on=TODAY, actor=back.asked_by, at=LATER)
    assert (billed.invoice_amount, billed.invoice_number) == (210, "B-7")
