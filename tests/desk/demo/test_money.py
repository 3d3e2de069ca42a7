"""Stock, shops and a parts instrument in the demo."""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta

import pytest

from desk.demo.money import add_shop_orders, add_shops_and_stock
from desk.demo.stage import read_data
from desk.selectors.verifying import differences
from inventory.models import Finding, Instrument
from repairs.models import PartsInstrument, ShopOrder, StockItem, StockMove, TakenPart, WorthDecision
from repairs.selectors.shops import approval_limit
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.drill


@pytest.fixture(scope="module")
def whole(shared_rows):
    stage = make_stage(seen=True, share=0.5)
    add_shops_and_stock(stage)
    add_shop_orders(stage)
    return stage


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def test_the_repair_room_is_stocked_and_two_things_ran_low(stage):
    assert StockItem.objects.filter(bench=stage.benches["alder-bench"]).count() == len(read_data("money")["stock"]) + 1
    assert {item.code for item in StockItem.objects.all().under_level()} == set(read_data("money")["low"])


def test_one_order_is_late_and_one_came_back_with_its_bill_and_passed(stage):
    late = ShopOrder.objects.late(today=stage.today).get()
    assert stage.today - late.promised_on == timedelta(days=5)
    assert Instrument.objects.get(pk=late.instrument_id).whereabouts == "at_shop"
    back = ShopOrder.objects.get(returned_at__isnull=False)
    assert back.invoice_amount > back.estimate_amount
    assert back.play_test.result == "pass"
    assert back.approved_by != back.asked_by


def test_one_instrument_gave_a_part_that_fits(stage):
    instrument = PartsInstrument.objects.get()
    assert instrument.instrument.readiness == "stays_in"
    assert sorted(TakenPart.objects.values_list("fit", "went")) == [("", "slip"), ("fits", "")]
    (missing,) = Finding.objects.filter(instrument=instrument.instrument, fault="missing_part").standing()
    assert missing.part == TakenPart.objects.get(fit="fits").part


def test_a_decision_and_an_estimate_wait_for_a_director(stage):
    dear = ShopOrder.objects.open().get(sent_at=None)
    assert dear.estimate_amount > approval_limit()
    assert dear.instrument.school.code == "ALDER"
    assert WorthDecision.objects.waiting().count() == 1


def test_everything_follows_from_the_facts_and_no_chance_was_drawn(stage):
    assert differences()[1] == []
    other = make_stage(share=0.5)
    before = other.rng.getstate()
    assert before == make_stage(share=0.5).rng.getstate()


def test_a_slip_of_stock_was_reversed_and_every_item_says_where_it_is_bought(stage):
    slip = StockMove.objects.get(why="reversed")
    assert (slip.item.quantity, slip.reverses.quantity) == (5, 50)
    assert not StockItem.objects.filter(supplier="").exists()
