"""Asking a shop and calling off; each refusal writes nothing."""

from __future__ import annotations

from decimal import Decimal

import pytest

from core.exceptions import RefusedError, UsedFormError
from inventory.models import Whereabouts
from inventory.services.state import move_instrument
from repairs.models import ShopOrder
from repairs.services.orders import (
    ask_together,
    call_off,
    send_to_shop,
)
from tests.factories import NOW, make_ready_instrument, make_user, new_nonce
from tests.repairs.money_makers import finding_of, make_order, make_sent_order, make_shop, make_stuck_instrument, where

pytestmark = pytest.mark.django_db
D = Decimal


def test_asking_leaves_the_instrument_where_it_is_and_the_same_form_asks_once():
    order = make_order()
    again = make_order(shop=order.shop, instrument=order.instrument, nonce=order.nonce)
    assert again.pk == order.pk
    assert where(order) == "in_store"


def test_a_form_of_one_instrument_asks_nothing_about_another():
    order = make_order()
    with pytest.raises(UsedFormError):
        make_order(nonce=order.nonce)
    assert ShopOrder.objects.count() == 1


def test_what_cannot_be_asked_is_refused():
    stuck, other, lost = make_stuck_instrument(), make_stuck_instrument(), make_ready_instrument()
    move_instrument(instrument=lost, expected="in_store", to=Whereabouts.NOT_FOUND, actor=make_user(), at=NOW)
    cases = [
        (stuck, {"question": " "}, "Say what"),
        (stuck, {"work": "moon_work"}, "no kind of work"),
        (stuck, {"findings": [finding_of(other).pk]}, "fixed in the meantime"),
        (stuck, {"expected_low_amount": D(9), "expected_high_amount": D(2)}, "does not fit together"),
        (lost, {}, "cannot be sent"),
    ]
    for instrument, fields, sentence in cases:
        with pytest.raises(RefusedError, match=sentence):
            make_order(instrument=instrument, **fields)
    assert not ShopOrder.objects.exists()


def test_one_instrument_is_asked_about_once_at_a_time():
    order = make_order()
    with pytest.raises(RefusedError, match="already"):
        make_order(instrument=order.instrument)
    assert ShopOrder.objects.count() == 1


def test_only_what_was_not_sent_is_called_off_with_a_reason_and_then_nothing_more_is_done():
    order, away = make_order(), make_sent_order()
    for refused, because in ((away, "No"), (order, " ")):
        with pytest.raises(RefusedError):
            call_off(order=refused, because=because, actor=order.asked_by, at=NOW)
    call_off(order=order, because="We do it here", actor=order.asked_by, at=NOW)
    with pytest.raises(RefusedError, match="canceled"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert make_order(instrument=order.instrument).pk != order.pk


def test_each_gets_an_order_of_its_own_or_none_does():
    first, second, third = (make_stuck_instrument() for _ in range(3))
    shop, actor, nonce = make_shop(), make_user(), new_nonce()
    asked = {"question": "Free it", "work": "free_slide"}
    others = [(second, asked | {"findings": [finding_of(second).pk]}), (third, asked)]

    def ask(others):
        return ask_together(
            shop=shop, instrument=first, others=others, nonce=nonce, actor=actor, at=NOW, **asked
        )  # fmt: skip

    with pytest.raises(RefusedError):
        ask([*others, (third, asked)])  # one twice
    assert not ShopOrder.objects.exists()
    order = ask(others)
    assert ask(others) == order
    rows = ShopOrder.objects.order_by("pk")
    assert [row.instrument for row in rows] == [first, second, third]
    assert {row.together for row in rows} == {nonce}
    assert (
        ask_together(
            shop=shop, instrument=make_stuck_instrument(), others=[], nonce=new_nonce(), actor=actor, at=NOW, **asked
        ).together
        is None
    )
