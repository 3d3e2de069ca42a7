"""The database holds what the services promise about orders."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from repairs.models import Shop, ShopOrder
from tests.factories import NOW, TODAY, new_nonce
from tests.repairs.money_makers import make_order, make_returned_order, make_shop

pytestmark = pytest.mark.django_db


def test_two_shops_do_not_share_a_name_in_any_case():
    make_shop(name="Brook Street")
    with pytest.raises(IntegrityError), transaction.atomic():
        Shop.objects.create(name="BROOK STREET")


@pytest.mark.parametrize(
    "fields",
    [
        {"returned_at": NOW},
        {"sent_at": NOW, "returned_at": NOW - timedelta(days=1)},
        {"sent_at": NOW, "called_off_at": NOW},
        {"approved_at": NOW},
        {"expected_low_amount": 5, "expected_high_amount": 2},
        {"invoice_amount": 5},
    ],
)
def test_an_order_that_cannot_be_is_refused_by_the_database(fields):
    order = make_order()
    with pytest.raises(IntegrityError), transaction.atomic():
        ShopOrder.objects.filter(pk=order.pk).update(**fields)


def test_one_instrument_has_one_open_order():
    order = make_order()
    with pytest.raises(IntegrityError), transaction.atomic():
        ShopOrder.objects.create(
            shop=order.shop, instrument=order.instrument, nonce=new_nonce(), question="x", asked_at=NOW,
            asked_by=order.asked_by,
        )  # fmt: skip


def test_the_best_figure_is_the_bill_then_the_estimate_then_the_most_expected():
    order = ShopOrder(expected_high_amount=9)
    assert order.known_amount == 9
    order.estimate_amount = 0
    assert order.known_amount == 0
    order.invoice_amount = 7
    assert order.known_amount == 7


def test_late_is_after_the_first_promised_day_while_it_is_away():
    order = ShopOrder(sent_at=NOW, first_promised_on=TODAY, promised_on=TODAY + timedelta(days=9))
    assert not order.is_late(today=TODAY)
    assert order.is_late(today=TODAY + timedelta(days=1))
    order.returned_at = NOW
    assert not order.is_late(today=TODAY + timedelta(days=1))


def test_a_bill_is_to_come_for_the_same_orders_in_the_rows_and_on_each():
    open_one, returned = make_order(), make_returned_order()
    billed = make_returned_order()
    ShopOrder.objects.filter(pk=billed.pk).update(invoice_amount=40, invoice_on=TODAY)
    made_good = make_returned_order()
    ShopOrder.objects.filter(pk=made_good.pk).update(warranty_of=returned.pk)
    rows = {one.pk for one in ShopOrder.objects.all() if one.is_bill_to_come}
    assert rows == set(ShopOrder.objects.bills_to_come().values_list("pk", flat=True)) == {returned.pk}
    assert open_one.pk not in rows
