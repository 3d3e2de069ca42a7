"""What came back from a shop, and what proves it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from inventory.models import Finding, Instrument
from inventory.services.care import record_play_test
from repairs.models import ShopOrder
from repairs.services.orders import (
    bring_back,
    tie_play_test,
)
from tests.factories import NOW, TODAY, make_ready_instrument
from tests.repairs.money_makers import (
    finding_of,
    make_order,
    make_returned_order,
    make_sent_order,
    make_stuck_instrument,
    where,
)

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=9)


def test_back_in_store_it_stays_in_until_somebody_has_played_it():
    order = make_returned_order(days=9, instrument=make_ready_instrument())
    instrument = Instrument.objects.get(pk=order.instrument_id)
    assert (instrument.whereabouts, instrument.readiness) == ("in_store", "stays_in")
    assert [reason["code"] for reason in instrument.readiness_reasons] == ["back_from_shop"]
    test = record_play_test(instrument=instrument, result="pass", actor=order.asked_by, at=LATER)
    assert Instrument.objects.get(pk=instrument.pk).readiness == "may_go_out"
    assert tie_play_test(order=order, play_test=test, actor=order.asked_by, at=LATER).play_test == test


def test_a_test_from_before_and_of_another_instrument_prove_nothing():
    order, other = make_returned_order(days=9), make_ready_instrument()
    before = record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=NOW)
    elsewhere = record_play_test(instrument=other, result="pass", actor=order.asked_by, at=LATER)
    for test in (before, elsewhere):
        with pytest.raises(RefusedError):
            tie_play_test(order=order, play_test=test, actor=order.asked_by, at=LATER)
    assert ShopOrder.objects.get().play_test is None


def test_what_the_shop_put_right_closes():
    instrument = make_stuck_instrument()
    finding = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[finding.pk])
    bring_back(
        order=order, what_was_done="Freed.", put_right=[finding.pk], warranty_until=LATER.date(), actor=order.asked_by,
        at=LATER,
    )  # fmt: skip
    assert Finding.objects.get(pk=finding.pk).closed_reference == f"order:{order.pk}"
    assert Instrument.objects.get(pk=instrument.pk).verdict == "plays"


def test_coming_back_is_refused_unsent_twice_wordless_for_other_findings_and_with_a_dead_warranty():
    unsent, back, away = make_order(), make_returned_order(days=9), make_sent_order()
    cases = [
        (unsent, {"what_was_done": "x"}, "not at the shop"),
        (back, {"what_was_done": "x"}, "already back"),
        (away, {"what_was_done": " "}, "what the shop did"),
        (away, {"what_was_done": "x", "put_right": [1]}, "not asked about"),
        (away, {"what_was_done": "x", "warranty_until": TODAY}, "warranty"),
    ]
    for order, fields, sentence in cases:
        with pytest.raises(RefusedError, match=sentence):
            bring_back(order=order, actor=order.asked_by, at=LATER, **fields)
    assert where(away) == "at_shop"
