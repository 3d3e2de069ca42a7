"""One instrument in plain data."""

from __future__ import annotations

import json
from datetime import timedelta

from desk.selectors.explaining import explanation
from inventory.models import Instrument
from tests.factories import NOW, TODAY, make_bench, make_inspection, make_instrument, make_ready_instrument

KEYS = {
    "asset_number", "kind", "kind_name", "school", "verdict", "whereabouts", "readiness", "reasons", "limits",
    "findings", "notes", "plan",
}  # fmt: skip


def stuck_trumpet(school):
    horn = make_instrument(school=school)
    make_inspection(instrument=horn, findings=[("third_valve_slide", "slide_seized", "severe")])
    return Instrument.objects.get(pk=horn.pk)


def test_it_says_everything_the_command_promises(school):
    told = explanation(stuck_trumpet(school), today=TODAY)
    assert set(told) >= KEYS
    assert told["verdict"] == "plays_with_limits"
    assert told["findings"][0]["part"] == "third_valve_slide"
    assert told["findings"][0]["sentence"]


def test_a_third_slide_that_cannot_move_leaves_one_and_three_sharp(school):
    """30.3 cents: two just valve lengths added, as in every published table of 1+3."""
    off = {note["written"]: note["cents"] for note in explanation(stuck_trumpet(school), today=TODAY)["notes"]["off"]}
    assert round(off["D4"], 1) == 30.3


def test_the_plan_has_steps_with_minutes_and_what_the_bench_cannot_do(school):
    make_bench(school=school)
    plan = explanation(stuck_trumpet(school), today=TODAY)["plan"]
    assert plan["steps"] or plan["sent_out"]
    assert {"attended_minutes", "cost", "sent_out", "left"} <= set(plan)


def test_it_is_json(school):
    told = explanation(stuck_trumpet(school), today=TODAY)
    assert json.loads(json.dumps(told)) == told


def test_a_sound_horn_has_no_findings_and_loses_no_note(school):
    told = explanation(make_ready_instrument(school=school), today=TODAY)
    assert told["readiness"] == "may_go_out"
    assert (told["findings"], told["reasons"], told["notes"]["lost"], told["notes"]["off"]) == ([], [], [], [])


def test_an_old_inspection_makes_it_stay_in(school):
    horn = make_ready_instrument(school=school)
    told = explanation(horn, today=horn.ready_until + timedelta(days=1))
    assert told["readiness"] == "stays_in"
    assert told["reasons"][0]["clears"] == "inspect"


def test_it_writes_nothing(school, django_assert_max_num_queries):
    horn = stuck_trumpet(school)
    before = Instrument.objects.values().get(pk=horn.pk)
    with django_assert_max_num_queries(10) as captured:
        explanation(horn, today=TODAY)
    assert all(query["sql"].startswith("SELECT") for query in captured.captured_queries)
    assert Instrument.objects.values().get(pk=horn.pk) == before
    assert horn.inspected_at == NOW
