"""The last maintenance, and what was done. Evidence for 2 CFR 200.313(d)(4): regular maintenance procedures."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.selectors.property import maintenance_of, property_facts
from inventory.rules.facts import Owed
from inventory.services.care import record_cleaning
from tests.factories import NOW, TODAY, make_ready_instrument
from tests.inventory.leaving_makers import make_disposal
from tests.repairs.care_makers import make_care
from tests.repairs.money_makers import make_returned_order

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=2)


def test_the_last_of_care_cleaning_and_shop_work_counts(school, tech):
    horn = make_ready_instrument(school=school)
    assert property_facts([horn.pk])[horn.pk].maintained_on is None
    make_care(instrument=horn, actor=tech)
    first = property_facts([horn.pk])[horn.pk].maintained_on
    record_cleaning(instrument=horn, done=[Owed.FULL], product="soap", actor=tech, at=LATER)
    assert first < property_facts([horn.pk])[horn.pk].maintained_on == TODAY + timedelta(days=2)
    lines = maintenance_of(horn)
    assert sorted(one.sort for one in lines) == ["care", "cleaned", "inspected"]
    assert (lines[0].sort, lines[0].what) == ("cleaned", "soap")


def test_shop_work_is_maintenance(school):
    order = make_returned_order()
    assert "shop" in [one.sort for one in maintenance_of(order.instrument)]
    assert property_facts([order.instrument_id])[order.instrument_id].maintained_on is not None


def test_how_it_left_is_known(school):
    gone = make_disposal(make_ready_instrument(school=school))
    assert property_facts([gone.instrument_id])[gone.instrument_id].disposal == gone
