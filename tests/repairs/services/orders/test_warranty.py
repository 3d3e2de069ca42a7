"""Back to the same shop: the old question, what the play test said, and no charge."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.care import record_play_test
from repairs.models import ShopOrder
from repairs.selectors.shops import wait_of
from repairs.services.orders import bring_back, note_invoice, return_on_warranty, send_to_shop
from tests.factories import NOW, make_inspection, make_ready_instrument, new_nonce
from tests.repairs.money_makers import (
    STUCK,
    finding_of,
    make_order,
    make_refusal,
    make_returned_order,
    make_sent_order,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
AFTER = NOW + timedelta(days=6)
LATER = NOW + timedelta(days=8)


def play(order, result="fail", at=AFTER, **said):
    test = {"failed_notes": ["D4"], "note": "Still stuck."} if result == "fail" else {}
    record_play_test(instrument=order.instrument, result=result, actor=order.asked_by, at=at, **(test | said))
    return ShopOrder.objects.get(pk=order.pk)


def back_to(order, *, at=LATER, nonce=None):
    return return_on_warranty(order=order, nonce=nonce or new_nonce(), actor=order.asked_by, at=at)


def test_it_asks_the_same_shop_the_same_with_what_failed_and_expects_no_charge():
    order = play(make_returned_order(work="solder_brace", instrument=make_ready_instrument()))
    again = back_to(order)
    assert (again.warranty_of, again.shop, again.work) == (order, order.shop, order.work)
    assert (again.expected_low_amount, again.expected_high_amount) == (0, 0)
    assert again.question.startswith(
        "Under warranty: it came back on September 19. It failed its play test on September 20: D4; Still stuck."
    )
    assert again.question.endswith("Free the main slide.")
    assert wait_of(again) is None
    assert send_to_shop(order=again, actor=again.asked_by, at=LATER).sent_at


def test_what_still_stands_at_the_part_goes_with_it():
    instrument = make_stuck_instrument()
    old = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[old.pk])
    order = bring_back(order=order, what_was_done="Freed", put_right=[old.pk], actor=order.asked_by, at=AFTER)
    make_inspection(instrument=instrument, findings=[*STUCK, ("bell", "dent_small", "light")], at=AFTER)
    again = back_to(play(order))
    found = Instrument.objects.get(pk=instrument.pk).findings.filter(closed_at=None)
    assert again.findings == [one.pk for one in found if one.part == "main_tuning_slide"]
    assert again.findings != [old.pk]


def test_two_taps_are_one_order():
    order, nonce = play(make_returned_order()), new_nonce()
    assert back_to(order, nonce=nonce) == back_to(order, nonce=nonce)
    with pytest.raises(RefusedError, match="already has an open shop order"):
        back_to(order)


def test_while_the_warranty_runs_no_test_has_to_fail():
    assert back_to(make_returned_order()).question.startswith("Under warranty: it came back on September 19.\n\n")


def test_it_is_refused_away_over_without_work_and_where_nothing_shows_that_it_failed():
    away, over, looked, unsaid = (make_returned_order() for _ in range(4))
    rows = ShopOrder.objects
    rows.filter(pk=unsaid.pk).update(warranty_until=None)
    rows.filter(pk=looked.pk).update(is_estimate_only=True)
    play(unsaid, "pass")
    cases = [
        (make_sent_order(), LATER, "not back yet"),
        (over, LATER + timedelta(days=60), r"ended on October 19, 2026\."),
        (looked, LATER, "No work was ordered"),
        (unsaid, LATER, "Nothing shows"),
    ]
    before = rows.count()
    for order, at, sentence in cases:
        with pytest.raises(RefusedError, match=sentence):
            back_to(order, at=at)
    assert rows.count() == before
    assert away.pk


def test_a_refusal_to_spend_does_not_stop_what_costs_nothing_and_a_bill_for_it_waits():
    order = play(make_returned_order())
    make_refusal("send_out", instrument=order.instrument)
    again = send_to_shop(order=back_to(order), actor=order.asked_by, at=LATER)
    again = bring_back(order=again, what_was_done="Freed", actor=order.asked_by, at=LATER + timedelta(days=2))
    billed = note_invoice(order=again, amount=20, on=LATER.date(), actor=order.asked_by, at=LATER + timedelta(days=3))
    assert wait_of(billed) == "bill"


def test_a_test_recorded_anywhere_is_tied_to_the_order_it_is_the_first_after():
    order = make_returned_order(instrument=make_ready_instrument())
    first = play(order).play_test
    assert first is not None
    assert play(order, "pass", at=LATER).play_test == first
    again = send_to_shop(order=back_to(order), actor=order.asked_by, at=LATER)
    again = bring_back(order=again, what_was_done="Freed", actor=order.asked_by, at=LATER + timedelta(days=2))
    assert play(again, "pass", at=LATER + timedelta(days=3)).play_test != first
    assert ShopOrder.objects.get(pk=order.pk).play_test == first


def test_a_test_of_what_never_was_at_a_shop_or_is_there_is_tied_to_nothing():
    order = make_order(instrument=make_ready_instrument())
    assert play(order, "pass").play_test is None
