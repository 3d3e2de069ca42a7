"""An order's story: a line for every act, oldest first, and none is ever lost."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.formats import date_format

from inventory.services.care import record_play_test
from repairs.models import ShopOrder
from repairs.pages.order_story import WHAT, story_of, undo_of
from repairs.rules.orders import COLUMNS
from repairs.selectors.orders import order_events
from repairs.selectors.shops import play_test_since
from repairs.services.orders import (
    approve_order,
    bring_back,
    change_promise,
    note_estimate,
    note_invoice,
    send_to_shop,
    take_back,
)
from tests.factories import NOW, TODAY, make_director, new_nonce
from tests.repairs.money_makers import make_order, make_returned_order, make_sent_order

pytestmark = pytest.mark.django_db
D, DAY = Decimal, timedelta(days=1)


def story(order):
    order = ShopOrder.objects.get(pk=order.pk)
    events = list(order_events(order))
    return story_of(order, events, undos=order.undos.all(), played=play_test_since(order))


def day(days):
    return date_format(TODAY + timedelta(days=days), "M j, Y")


def test_every_promise_estimate_and_person_is_there_oldest_first():
    order = make_order()
    tech, director = order.asked_by, make_director(order.instrument.school)
    note_estimate(order=order, amount=D(180), on=TODAY, actor=tech, at=NOW)
    note_estimate(order=order, amount=D(190), on=TODAY, promised_on=TODAY + 6 * DAY, actor=tech, at=NOW + DAY)
    approve_order(order=order, amount=D(190), actor=director, at=NOW + DAY)
    send_to_shop(order=order, actor=tech, at=NOW + 2 * DAY, on=TODAY + DAY)
    for days in (9, 12):
        change_promise(order=order, promised_on=TODAY + days * DAY, actor=tech, at=NOW + 3 * DAY)
    bring_back(order=order, what_was_done="Freed", actor=tech, at=NOW + 9 * DAY)
    note_invoice(order=order, amount=D(195), number="B-1", on=TODAY, actor=tech, at=NOW + 13 * DAY)
    told = [(one.what, one.who) for one in story(order)]
    assert told == [
        ("Asked", tech.name),
        ("Estimate of $180", tech.name),
        ("Estimate of $190", tech.name),
        ("Approved up to $190", director.name),
        ("Sent", tech.name),
        (f"They now promise {day(9)}", tech.name),
        (f"They now promise {day(12)}", tech.name),
        ("Came back", tech.name),
        ("Bill of $195", tech.name),
    ]
    more = [one.more for one in story(order)]
    assert more[2] == f"on {day(0)}\npromised for {day(6)}"  # entered a day later
    assert more[4] == f"on {day(1)}\npromised for {day(6)}"
    assert more[7:] == ["Freed", f"on {day(0)}\nB-1"]


def test_what_was_taken_back_stays_with_its_words_and_who_did_it():
    order = make_sent_order()
    tech = order.asked_by
    for done in ("Wrong one", "Freed"):
        bring_back(order=order, what_was_done=done, actor=tech, at=NOW + DAY)
        if done == "Wrong one":
            number = undo_of(list(order_events(order)))["number"]
            take_back(order=order, number=number, because="Mixed up", nonce=new_nonce(), actor=tech, at=NOW + DAY)
    told = [(one.what, one.more, one.is_undone) for one in story(order)][2:]
    assert told == [
        ("Came back", "Wrong one", True),
        ("Undone: Came back", "Mixed up", False),
        ("Came back", "Freed", False),
    ]


def test_a_play_test_after_it_came_back_is_told():
    order = make_returned_order()
    record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=order.returned_at)
    assert "Play test" in story(order)[-1].what


def test_every_act_that_is_taken_back_has_its_words():
    assert set(COLUMNS) <= set(WHAT)
