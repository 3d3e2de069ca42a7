"""The instruments a year ago, through the services."""

from __future__ import annotations

import pytest

from core.events import broken_links
from core.models import Event
from desk.demo.fleet import inspect_fleet
from inventory.models import Finding, Inspection, Instrument, Tag
from tests.desk.demo.stages import make_stage


@pytest.fixture
def stage(db):
    return make_stage(fleet=True, share=0.2)


def test_every_instrument_was_registered_by_its_director_with_a_tag(stage):
    assert len(stage.fleet) == Instrument.objects.count() > 20
    assert Tag.objects.live().count() == len(stage.fleet)
    assert Event.objects.filter(act="registered").count() == len(stage.fleet)


def test_ages_and_ways_of_coming_differ(stage):
    assert len(set(Instrument.objects.values_list("year_made", flat=True))) > 8
    assert Instrument.objects.filter(acquired_by="bought", acquisition_cost_amount__gt=0).exists()
    assert not Instrument.objects.exclude(acquired_by="bought").filter(acquisition_cost_amount__gt=0).exists()


def test_most_are_inspected_with_findings_that_fit(stage):
    inspect_fleet(stage)
    seen = Inspection.objects.finished().count()
    assert 0.8 * len(stage.fleet) <= seen <= len(stage.fleet)
    assert Finding.objects.exists()
    assert list(broken_links()) == []
