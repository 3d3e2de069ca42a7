"""The instruments of the demo that are measured again and again."""

from __future__ import annotations

from copy import deepcopy

import pytest

from desk.demo.pitch import DAYS, measure_pitch
from inventory.models import Instrument, PlayTest
from inventory.pages.trends import trend_page
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.drill


@pytest.fixture(scope="module")
def whole(shared_rows):
    stage = make_stage(share=0.25, seen=True)
    for number in range(len(DAYS)):
        measure_pitch(stage, number=number)
    return stage


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def test_one_instrument_holds_its_pitch_and_the_others_drift(stage):
    pages = {instrument.kind_code: trend_page(instrument) for instrument in stage.watched}
    assert {kind: page["drift"].is_flagged for kind, page in pages.items()} == {
        "trumpet": False,
        "trombone": True,
        "clarinet_bb": True,
    }


def test_the_instrument_that_leaks_goes_out_with_limits_and_names_its_notes(stage):
    clarinet = next(instrument for instrument in stage.watched if instrument.kind_code == "clarinet_bb")
    latest = PlayTest.objects.filter(instrument=clarinet).first()
    assert latest.failed_notes == ["E3", "F3"]
    assert "E3 and F3 do not speak." in Instrument.objects.get(pk=clarinet.pk).limits


def test_a_fleet_without_such_instruments_has_none_to_measure(stage):
    stage.fleet, stage.watched = [], []
    measure_pitch(stage, number=0)
    assert stage.watched == []
