"""Who approves an order, and what comes next on its page, in words."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Role
from repairs.models import ShopOrder
from repairs.pages.approvals import acts_of, approval_lines, approver_words
from repairs.services.orders import bring_back, note_invoice, refuse_order, send_to_shop
from tests.factories import NOW, TODAY, make_director, make_user
from tests.repairs.money_makers import (
    estimated,
    make_order,
    make_returned_order,
    make_sent_order,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
D = Decimal


def bar(order, *, may_send=True, may_approve=False):
    return [act["label"] for act in acts_of(order, may_send=may_send, may_approve=may_approve)]


def test_who_asked_is_told_why_they_do_not_approve_and_what_to_do_where_nobody_else_can(school):
    director = make_director(school)
    tech = make_user(Role.TECH, school=school)
    assert approver_words(tech, asker_id=tech.pk, school=school) == "A director or an administrator approves it."
    assert approver_words(director, asker_id=tech.pk, school=school) == ""
    assert "nobody else may approve" in approver_words(director, asker_id=director.pk, school=school)
    make_user(Role.ADMINISTRATOR)
    words = "You asked for it. Another director or an administrator approves it."
    assert approver_words(director, asker_id=director.pk, school=school) == words


def test_a_line_says_why_and_how_much(school):
    trip = make_order(instrument=make_stuck_instrument(school=school), is_estimate_only=True, trip_amount=D(90))
    line = approval_lines([trip])[0]
    assert (line["amount"], line["waits_for"]) == (90, "Trip and bench fee of $90 are above the $40 for an estimate.")


def test_every_step_has_a_way_on_for_who_sends_and_who_approves():
    assert bar(make_order()) == ["Send it out"]
    assert bar(make_order(expected_high_amount=None)) == ["Their estimate"]
    dear = make_order(expected_high_amount=D(400))
    assert bar(dear) == ["Their estimate"]
    assert bar(dear, may_approve=True) == ["Do not approve", "Their estimate"]
    assert bar(dear, may_approve=True, may_send=False) == ["Do not approve"]
    waiting = estimated(make_order(), 200)
    assert bar(waiting) == []
    assert bar(waiting, may_approve=True) == ["Do not approve", "Approve cost"]
    director = make_director(waiting.instrument.school)
    refused = refuse_order(order=waiting, because="No", actor=director, at=NOW)
    assert bar(refused) == ["Cancel the order", "New estimate"]
    assert bar(refused, may_send=False, may_approve=True) == []
    assert bar(make_sent_order()) == ["It is back"]
    assert bar(make_returned_order()) == ["Record the bill"]
    assert bar(make_returned_order(amount=80)) == []
    assert bar(make_returned_order(amount=90), may_approve=True) == ["Do not approve", "Accept the bill"]


def test_a_trip_for_an_estimate_has_a_way_on_at_each_step():
    order = make_order(is_estimate_only=True, expected_high_amount=None)
    assert bar(order) == ["Send it out"]
    assert bar(estimated(make_order(is_estimate_only=True), 90)) == ["Go ahead", "Send it out"]
    order = send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert bar(order) == ["It is back", "Their estimate"]
    assert bar(estimated(order, 90)) == ["It is back", "Go ahead"]
    dear = estimated(order, 300)
    refused = refuse_order(order=dear, because="No", actor=make_director(order.instrument.school), at=NOW)
    assert bar(refused) == ["New estimate", "It is back"]
    bring_back(order=order, what_was_done="Nothing", actor=order.asked_by, at=NOW)
    billed = note_invoice(order=order, amount=D(90), on=TODAY, actor=order.asked_by, at=NOW)
    disputed = refuse_order(order=billed, because="No", actor=make_director(order.instrument.school), at=NOW)
    assert bar(disputed) == ["Correct the bill"]
    assert bar(ShopOrder(called_off_at=NOW)) == []
