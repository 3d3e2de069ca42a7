"""One instrument in plain data."""

from __future__ import annotations

import json
from datetime import timedelta

from desk.pages.explaining import explanation
from inventory.models import Instrument
from inventory.selectors.charts import chart_digest
from inventory.services.care import record_play_test
from inventory.services.charts import confirm_chart
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_limited_instrument,
    make_ready_instrument,
)

KEYS = {
    "asset_number", "kind", "kind_name", "school", "verdict", "whereabouts", "readiness", "reasons", "limits",
    "findings", "notes", "plan",
}  # fmt: skip


def test_it_says_everything_the_command_promises(school):
    found = explanation(make_limited_instrument(school=school), today=TODAY)
    assert set(found) >= KEYS
    assert found["verdict"] == "plays_with_limits"
    assert found["findings"][0]["part"] == "third_valve_slide"
    assert found["findings"][0]["sentence"]


def test_a_third_slide_that_cannot_move_leaves_one_and_three_sharp(school):
    """30.3 cents: two just valve lengths added, as in every published table of 1+3."""
    off = {
        note["written"]: note["cents"]
        for note in explanation(make_limited_instrument(school=school), today=TODAY)["notes"]["off"]
    }
    assert round(off["D4"], 1) == 30.3


def test_the_plan_has_steps_with_minutes_and_what_the_bench_cannot_do(school):
    make_bench(school=school)
    plan = explanation(make_limited_instrument(school=school), today=TODAY)["plan"]
    assert plan["steps"] or plan["sent_out"]
    assert {"attended_minutes", "cost", "sent_out", "left"} <= set(plan)


def test_it_is_json(school):
    found = explanation(make_limited_instrument(school=school), today=TODAY)
    assert json.loads(json.dumps(found)) == found


def test_a_sound_instrument_has_no_findings_and_loses_no_note(school):
    found = explanation(make_ready_instrument(school=school), today=TODAY)
    assert found["readiness"] == "may_go_out"
    assert (found["findings"], found["reasons"], found["notes"]["lost"], found["notes"]["off"]) == ([], [], [], [])


def test_an_old_inspection_makes_it_stay_in(school):
    instrument = make_ready_instrument(school=school)
    found = explanation(instrument, today=instrument.ready_until + timedelta(days=1))
    assert found["readiness"] == "stays_in"
    assert found["reasons"][0]["clears"] == "inspect"


def test_it_writes_nothing(school, django_assert_max_num_queries):
    instrument = make_limited_instrument(school=school)
    before = Instrument.objects.values().get(pk=instrument.pk)
    with django_assert_max_num_queries(10) as captured:
        explanation(instrument, today=TODAY)
    assert all(query["sql"].startswith("SELECT") for query in captured.captured_queries)
    assert Instrument.objects.values().get(pk=instrument.pk) == before
    assert instrument.inspected_at == NOW


def test_every_note_is_told_with_the_finding_behind_it(school):
    """30.3 cents for 1+3 whose slide cannot move: two just valve lengths added, as in every published table."""
    found = explanation(make_limited_instrument(school=school), today=TODAY)
    notes = {note["written"]: note for note in found["notes"]["all"]}
    assert len(notes) == found["notes"]["count"]
    sharp = dict.fromkeys(("cents", "cents_low", "cents_high"), 30.315)
    assert notes["D4"] == sharp | {
        "written": "D4", "sounding": 60, "state": "off", "fingering": "13", "because": [0], "weak": False,
    }  # fmt: skip
    assert found["findings"][notes["D4"]["because"][0]]["part"] == "third_valve_slide"
    assert notes["C4"]["because"] == []


def test_levels_tuning_and_functions_are_told(school):
    found = explanation(make_limited_instrument(school=school), today=TODAY)
    assert found["tuning_range"]["can_reach_a440"] is True
    assert "D4" in found["fit"]["levels"]["first_year"]["off"]
    assert found["fit"]["levels"]["first_year"]["hurts"] is True
    assert isinstance(found["functions_lost"], list)


def test_a_drum_has_no_notes_and_no_tuning_range(school):
    found = explanation(make_ready_instrument(school=school, kind_code="snare_kit"), today=TODAY)
    assert (found["notes"]["all"], found["tuning_range"], found["play_test"]) == ([], None, None)


def test_a_confirmed_chart_counts_as_verified(school, director):
    flute = make_ready_instrument(school=school, kind_code="flute")
    assert explanation(flute, today=TODAY)["notes"]["verified"] is False
    confirm_chart(code="flute", digest=chart_digest("flute"), actor=director, on=TODAY, at=NOW)
    assert explanation(flute, today=TODAY)["notes"]["verified"] is True


def test_the_latest_play_test_tells_what_no_finding_explains(school, tech):
    instrument = make_ready_instrument(school=school)
    cents = {"C4": 0.0, "C5": 0.0, "F4": 0.0, "E5": 0.0, "G4": 40.0}  # open or first valve: no error by length
    measures = [{"written": n, "cents": c, "spread": 0, "tries": 1, "spoke": True} for n, c in cents.items()]
    record_play_test(instrument=instrument, result="fail", failed_notes=["G4"], measures=measures, actor=tech, at=NOW)
    found = explanation(Instrument.objects.get(pk=instrument.pk), today=TODAY)["play_test"]
    assert found["result"] == "fail"
    assert found["failed_notes"] == ["G4"]
    assert [one["written"] for one in found["unexplained"]] == ["G4"]
    assert found["trend"]["drifts"] is False
    assert json.loads(json.dumps(found)) == found
