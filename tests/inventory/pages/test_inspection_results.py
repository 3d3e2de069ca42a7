from __future__ import annotations

from datetime import timedelta

from inventory.models import Inspection, Instrument, Purpose, Whereabouts
from inventory.pages.inspection_results import CLEARING, inspection_result, reason_line
from inventory.services.care import report_problem
from inventory.services.changing_kind import correct_kind
from inventory.services.state import move_instrument
from tests.factories import NOW, TODAY, make_inspection, make_instrument


def read(inspection: Inspection) -> Inspection:
    return Inspection.objects.select_related("instrument", "actor").get(pk=inspection.pk)


def test_effects_stand_in_three_groups_with_the_verdict(school, tech):
    instrument = make_instrument(school=school)
    walk = make_inspection(
        instrument=instrument,
        findings=[
            ("case", "odor_mold", "severe"),
            ("third_valve_slide", "slide_seized", "severe"),
            ("bell", "dent_small", "light"),
        ],
        actor=tech,
    )
    result = inspection_result(read(walk), today=TODAY)
    groups = {code: list(sentences) for code, _, sentences in result["groups"]}
    assert [len(groups[code]) for code in ("stops", "limits", "looks")] == [1, 1, 1]
    assert (result["verdict"], result["readiness"]) == ("does_not_play", "stays_in")
    assert result["is_newest"]


def test_an_older_walk_speaks_for_its_own_day(school, tech):
    instrument = make_instrument(school=school)
    first = make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    make_inspection(instrument=instrument, actor=tech, at=NOW + timedelta(days=3), purpose=Purpose.SPOT)
    result = inspection_result(read(first), today=TODAY)
    assert not result["is_newest"]
    assert result["verdict"] == "plays"
    assert [(part, line["fault"]) for part, line in result["found"]] == [("bell flare and rim", "dent_small")]


def test_every_reason_leads_to_what_clears_it_and_one_way_is_shown_once(school, tech):
    instrument = make_instrument(school=school)
    walk = make_inspection(
        instrument=instrument,
        findings=[("piston", "valve_stuck", "severe", "2", "up"), ("mouthpiece", "mouthpiece_stuck", "light")],
        actor=tech,
    )
    report_problem(instrument=instrument, text="It hisses.", actor=tech, at=NOW)
    reasons = inspection_result(read(walk), today=TODAY)["reasons"]
    urls = [reason["url"] for reason in reasons if reason["url"]]
    assert len(urls) == len(set(urls)) == 2
    for code in CLEARING:
        line = reason_line({"text": "x.", "clears": code}, instrument)
        assert instrument.asset_number in line["url"]
    assert reason_line({"text": "x.", "clears": "nothing"}, instrument)["url"] == ""


def test_what_stands_below_as_a_finding_is_only_counted_among_the_reasons(school, tech):
    findings = [
        ("main_tuning_slide", "slide_seized", "moderate"),
        ("third_valve_slide", "slide_seized", "severe"),
        ("tuning_slide_water_key", "water_key_leak", "moderate"),
    ]
    instrument = make_instrument(school=school)
    result = inspection_result(read(make_inspection(instrument=instrument, findings=findings, actor=tech)), today=TODAY)
    told = [reason["text"] for reason in result["reasons"]]
    below = {sentence for *_, sentences in result["groups"] for sentence in sentences}
    repeated = [one for one in result["instrument"].readiness_reasons if one["text"] in below]
    assert len(repeated) == 2
    assert not below.intersection(told)
    assert told[-1] == "2 findings, below."
    assert result["reasons"][-1]["action"] == "Start a repair job"


def test_after_a_hand_out_walk_lending_continues(school, tech):
    instrument = make_instrument(school=school)
    walk = make_inspection(instrument=instrument, actor=tech, purpose=Purpose.HAND_OUT)
    assert inspection_result(read(walk), today=TODAY)["next_label"] == "Continue lending"
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts="with_student")
    back = make_inspection(instrument=instrument, actor=tech, purpose=Purpose.RETURN)
    assert inspection_result(read(back), today=TODAY)["next_label"] == "Continue the return"


def test_a_walk_too_old_does_not_say_that_it_may_go_out(school, tech):
    walk = make_inspection(instrument=make_instrument(school=school), actor=tech)
    assert inspection_result(read(walk), today=TODAY)["readiness"] == "may_go_out"
    assert inspection_result(read(walk), today=TODAY + timedelta(days=4000))["readiness"] == "stays_in"


def test_on_the_bench_a_walk_leads_on_to_its_job(school, tech):
    """A job is open there already: nobody is told to start another."""
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2")], actor=tech)
    move_instrument(instrument=instrument, expected=Whereabouts.IN_STORE, to=Whereabouts.ON_BENCH, actor=tech, at=NOW)
    spot = make_inspection(
        instrument=instrument, actor=tech, findings=[("piston", "valve_stuck", "severe", "2")], purpose=Purpose.SPOT
    )
    result = inspection_result(read(spot), today=TODAY)
    assert result["next_label"] == "Open the job"
    assert {line["action"] for line in result["reasons"] if "bench/open" in line["url"]} == {"Open the job"}


def test_a_walk_of_the_wrong_kind_stays_readable_and_speaks_for_nothing_now(school, director):
    instrument = make_instrument(school=school, kind_code="trumpet")
    walk = make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    correct_kind(instrument=instrument, kind_code="flute", actor=director, at=NOW)
    result = inspection_result(read(walk), today=TODAY)
    assert not result["is_newest"]
    assert result["verdict"] == walk.verdict != "not_inspected"
    assert "Trumpet" in result["over"]
    assert [(part, line["fault"]) for part, line in result["found"]] == [("third valve slide", "slide_seized")]
