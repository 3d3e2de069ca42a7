from __future__ import annotations

import json

from desk.selectors.explaining import explanation
from inventory.models import Instrument
from inventory.selectors.charts import chart_digest
from inventory.services.care import record_play_test
from inventory.services.charts import confirm_chart
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument


def stuck_trumpet(school) -> Instrument:
    horn = make_instrument(school=school)
    make_inspection(instrument=horn, findings=[("third_valve_slide", "slide_seized", "severe")])
    return Instrument.objects.get(pk=horn.pk)


def test_every_note_is_told_with_the_finding_behind_it(school):
    """30.3 cents for 1+3 whose slide cannot move: two just valve lengths added, as in every published table."""
    told = explanation(stuck_trumpet(school), today=TODAY)
    notes = {note["written"]: note for note in told["notes"]["all"]}
    assert len(notes) == told["notes"]["count"]
    assert notes["D4"] | {"cents": round(notes["D4"]["cents"], 1)} == {
        "written": "D4", "sounding": 60, "state": "off", "fingering": "13", "cents": 30.3, "because": [0], "weak": False,
    }  # fmt: skip
    assert told["findings"][notes["D4"]["because"][0]]["part"] == "third_valve_slide"
    assert notes["C4"]["because"] == []


def test_levels_tuning_and_functions_are_told(school):
    told = explanation(stuck_trumpet(school), today=TODAY)
    assert told["tuning_range"]["can_reach_a440"] is True
    assert "D4" in told["fit"]["levels"]["first_year"]["off"]
    assert told["fit"]["levels"]["first_year"]["hurts"] is True
    assert isinstance(told["functions_lost"], list)


def test_a_drum_has_no_notes_and_no_tuning_range(school):
    told = explanation(make_ready_instrument(school=school, kind_code="snare_kit"), today=TODAY)
    assert (told["notes"]["all"], told["tuning_range"], told["play_test"]) == ([], None, None)


def test_a_confirmed_chart_counts_as_verified(school, director):
    flute = make_ready_instrument(school=school, kind_code="flute")
    assert explanation(flute, today=TODAY)["notes"]["verified"] is False
    confirm_chart(code="flute", digest=chart_digest("flute"), actor=director, on=TODAY, at=NOW)
    assert explanation(flute, today=TODAY)["notes"]["verified"] is True


def test_the_latest_play_test_tells_what_no_finding_explains(school, tech):
    horn = make_ready_instrument(school=school)
    cents = {"C4": 0.0, "C5": 0.0, "F4": 0.0, "E5": 0.0, "G4": 40.0}  # open or first valve: no error by length
    measures = [{"written": n, "cents": c, "spread": 0, "tries": 1, "spoke": True} for n, c in cents.items()]
    record_play_test(instrument=horn, result="fail", failed_notes=["G4"], measures=measures, actor=tech, at=NOW)
    told = explanation(Instrument.objects.get(pk=horn.pk), today=TODAY)["play_test"]
    assert told["result"] == "fail"
    assert told["failed_notes"] == ["G4"]
    assert [one["written"] for one in told["unexplained"]] == ["G4"]
    assert told["trend"]["drifts"] is False
    assert json.loads(json.dumps(told)) == told
