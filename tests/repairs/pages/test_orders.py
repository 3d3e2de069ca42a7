"""What a shop is asked, one order's story, its slip."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Finding
from repairs.models import ShopOrder
from repairs.pages.orders import asking, findings_in_words, order_page, wanted_work
from repairs.pages.shops import work_name
from repairs.selectors.shops import plan_today
from repairs.services.orders import approve_order, bring_back, note_estimate, note_invoice, send_to_shop
from tests.factories import NOW, TODAY, make_director, make_inspection, make_instrument
from tests.repairs.money_makers import (
    STUCK,
    finding_of,
    make_order,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db


def test_a_question_is_filled_from_what_the_plan_sends_out():
    instrument = make_instrument()
    make_inspection(instrument=instrument, findings=[("leadpipe", "red_rot", "severe")])
    filled = asking(instrument)
    assert filled["findings"] == (finding_of(instrument).pk,)
    assert "red rot" in filled["question"].lower()
    assert 0 < filled["expected_low_amount"] <= filled["expected_high_amount"]


def test_one_order_asks_for_all_the_shops_work_and_names_the_parts():
    instrument = make_instrument()
    findings = [("leadpipe", "red_rot", "severe"), ("valve_casing", "casing_dent", "severe", "1")]
    make_inspection(instrument=instrument, findings=findings)
    out = plan_today(instrument).send_out
    assert len(asking(instrument, out)["findings"]) == 2
    wanted = wanted_work(instrument, out)

    assert sorted(wanted.values()) == ["leadpipe", "valve casings, valve 1"]


def test_a_shop_is_not_asked_to_watch_what_it_could_not_put_right():
    instrument = make_instrument()
    make_inspection(instrument=instrument, findings=[*STUCK, ("finish", "lacquer_wear", "light")])
    stuck, worn = Finding.objects.filter(instrument=instrument).order_by("-fault")
    assert asking(instrument)["findings"] == (stuck.pk,)
    assert asking(instrument, about=[worn.pk])["question"] == "Finish, lacquer wear (light)."


def test_an_instrument_that_the_bench_puts_right_itself_asks_nothing():
    assert asking(make_instrument()) == {}


def test_findings_are_said_in_words():
    instrument = make_stuck_instrument()
    assert "slide" in findings_in_words(instrument)[0][1]
    assert findings_in_words(instrument, ids=[]) == []
    assert work_name("no_such_work") == "Other work"


@pytest.fixture
def billed():
    """Asked, estimated, approved, sent, back and billed a little above what was approved."""
    order = make_order()
    tech, director = order.asked_by, make_director(order.instrument.school)
    note_estimate(order=order, amount=Decimal(180), on=TODAY, actor=tech, at=NOW)
    approve_order(order=order, amount=Decimal(190), actor=director, at=NOW + timedelta(days=1))
    send_to_shop(order=order, actor=tech, at=NOW + timedelta(days=2))
    bring_back(order=order, what_was_done="Freed", actor=tech, at=NOW + timedelta(days=9))
    on = TODAY + timedelta(days=12)
    return note_invoice(order=order, amount=Decimal(195), number="B-1", on=on, actor=tech, at=NOW + timedelta(days=13))


def test_a_bill_above_what_was_approved_is_said_and_a_play_test_is_due(billed):
    page = order_page(billed, today=TODAY)
    assert (page["is_waiting"], page["is_play_test_due"]) == (True, True)
    assert page["waits_for"] == "The bill of $195 is above the approved $190."


def test_an_order_costs_five_queries(billed, django_assert_max_num_queries):
    rows = ShopOrder.objects.for_table().select_related("asked_by", "approved_by", "play_test")
    order = rows.get(pk=billed.pk)
    with django_assert_max_num_queries(5):  # two of them for its warranty
        order_page(order, today=TODAY)
