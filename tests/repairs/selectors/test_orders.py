"""What happened to an order, by the event log."""

from __future__ import annotations

from datetime import timedelta

import pytest

from repairs.selectors.orders import latest_to_undo, order_events
from repairs.services.orders import take_back
from tests.factories import NOW, new_nonce
from tests.repairs.money_makers import make_order, make_sent_order

pytestmark = pytest.mark.django_db


def test_an_order_s_own_acts_oldest_first_with_their_people(django_assert_num_queries):
    order = make_sent_order()
    make_order()
    name = order.asked_by.name
    with django_assert_num_queries(1):
        assert [(event.act, event.actor.name) for event in order_events(order)] == [
            ("shop_asked", name),
            ("sent_to_shop", name),
        ]


def test_the_act_that_may_be_taken_back_is_the_last_that_holds():
    order = make_sent_order()
    latest = latest_to_undo(order_events(order))
    assert latest.act == "sent_to_shop"
    at = NOW + timedelta(days=1)
    take_back(order=order, number=latest.number, because="No", nonce=new_nonce(), actor=order.asked_by, at=at)
    assert latest_to_undo(order_events(order)) is None
