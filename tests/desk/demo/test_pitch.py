"""The horns of the demo that are measured again and again."""

from __future__ import annotations

from copy import deepcopy

import pytest

from desk.demo.pitch import DAYS, WATCHED, watch_some
from inventory.models import Instrument, PlayTest
from inventory.selectors.trends import trend_page
from tests.desk.demo.stages import make_stage


@pytest.fixture(scope="module")
def whole(shared_rows):
    stage = make_stage(share=0.25, seen=True)
    for number in range(len(DAYS)):
        watch_some(stage, number=number)
    return stage


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def test_one_horn_holds_its_pitch_and_the_others_drift(stage):
    pages = {horn.kind_code: trend_page(horn) for horn in stage.watched}
    assert set(pages) == {one.kind for one in WATCHED}
    assert {kind: page.drift.is_flagged for kind, page in pages.items()} == {
        "trumpet": False,
        "trombone": True,
        "clarinet_bb": True,
    }


def test_the_horn_that_leaks_goes_out_with_limits_and_names_its_notes(stage):
    clarinet = next(horn for horn in stage.watched if horn.kind_code == "clarinet_bb")
    latest = PlayTest.objects.filter(instrument=clarinet).first()
    assert latest.failed_notes == ["E3", "F3"]
    assert "E3 and F3 do not speak." in Instrument.objects.get(pk=clarinet.pk).limits


def test_a_fleet_without_such_horns_has_none_to_watch(stage):
    stage.fleet, stage.watched = [], []
    watch_some(stage, number=0)
    assert stage.watched == []
