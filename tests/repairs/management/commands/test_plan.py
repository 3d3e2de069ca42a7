"""The command that plans findings on a kind."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command


@pytest.fixture(autouse=True)
def _without_a_database(monkeypatch):
    monkeypatch.setattr("inventory.management.figures.is_district_there", lambda: False)


def plan(*arguments: str) -> dict[str, object]:
    out = StringIO()
    call_command("plan", *arguments, "--json", stdout=out)
    return json.loads(out.getvalue())


STUCK = ("--finding", "main tuning slide:slide_seized:severe")


def test_a_plan_is_printed_as_json_alone():
    told = plan("trumpet", *STUCK, "--finding", "third_valve_slide:slide_seized:moderate")
    step = told["steps"][0]
    assert {"method", "part", "minutes", "wait_h", "cost", "hazards", "tools", "prerequisites"} <= set(step)
    assert set(step["minutes"]) == {"low", "likely", "high"}
    assert {"p50", "p80"} <= set(told["attended_minutes"])
    assert {"p50", "p80"} <= set(told["cost"])
    assert told["steps"][-1]["method"] == "play_test"
    assert {one["part"] for one in told["steps"][:-1] if one["rung"]} == {"main_tuning_slide", "third_valve_slide"}


def test_the_bench_decides_what_goes_out():
    brace = ("trumpet", "--finding", "braces and finger hooks:solder_broken:severe")
    school, full = plan(*brace), plan(*brace, "--bench", "full")
    assert school["sent_out"][0]["why"] == "no torch is allowed at this bench"
    assert "solder_brace" in [step["method"] for step in full["steps"]]
    assert full["sent_out"] == []


def test_looks_are_left():
    told = plan("trumpet", "--finding", "finish:lacquer_wear:severe")
    assert told["left"][0]["why"] == "looks only: it does not affect playing"


def test_without_json_it_is_a_list():
    out = StringIO()
    call_command("plan", "trumpet", *STUCK, stdout=out)
    assert out.getvalue().startswith(" 1. ")
    assert "four times in five" in out.getvalue()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["kazoo"], "kind 'kazoo' is not known"),
        (["trumpet", "--finding", "nose:slide_seized:severe"], "part of a trumpet 'nose' is not known"),
        (["trumpet", "--finding", "main tuning slide:itch:severe"], "itch"),
        (["trumpet", "--finding", "main tuning slide:slide_seized:awful"], "severity 'awful' is not known"),
        (["trumpet", "--finding", "main tuning slide:slide_seized"], "is not PART:FAULT:SEVERITY"),
        (["trumpet", "--finding", "main tuning slide:pad_leak:severe"], "fault at the main tuning slide"),
        (["trumpet", "--bench", "attic"], "bench 'attic' is not known"),
    ],
)
def test_what_is_not_known_is_refused_with_what_is_and_status_two(arguments, words):
    with pytest.raises(CommandError, match=words) as refusal:
        call_command("plan", *arguments, "--json")
    assert refusal.value.returncode == 2


def found(*said: str) -> list[str]:
    return [word for one in said for word in ("--finding", one)]


def steps_of(told: dict[str, object]) -> list[str]:
    return [step["key"] for step in told["steps"]]


def test_a_bottom_cap_holds_back_neither_felts_nor_pistons_nor_the_bath():
    """Pistons come out at the top wherever the spring sits: common practice, no source."""
    told = plan("trumpet", *found("bottom_valve_cap_1:cap_stuck:severe", "pistons_1:valve_sluggish:severe"))
    keys = steps_of(told)
    assert keys[:4] == ["remove_felts", "remove_pistons", "soap_bath_brass", "free_cap:bottom_valve_cap:1:soak"]
    cap = told["steps"][3]
    assert [rung["rung"] for rung in cap["next_rungs"]] == [
        "taps", "oil", "punch", "heat", "padded_pliers", "specialist",
    ]  # fmt: skip
    assert cap["minutes"]["high"] == 0


def test_a_top_cap_is_freed_before_felts_come_out_and_is_neither_heated_nor_punched():
    told = plan("trumpet", *found("top_valve_cap_1:cap_stuck:severe", "leadpipe:lime_scale:severe"))
    assert steps_of(told)[:2] == ["free_cap:top_valve_cap:1:taps", "remove_felts"]
    rungs = {rung["rung"] for rung in told["steps"][0]["next_rungs"]}
    assert not rungs & {"heat", "punch", "soak"}


def test_what_severity_rules_out_is_neither_tried_nor_priced():
    light, severe = (plan("trumpet", *found(f"main tuning slide:slide_seized:{how}")) for how in ("light", "severe"))
    assert light["steps"][0]["rung"] == "hand"
    assert "hand" not in {step["rung"] for step in severe["steps"]}
    assert severe["attended_minutes"]["p50"] > light["attended_minutes"]["p50"] + 10
    assert severe["cost"]["p50"] > light["cost"]["p50"]


def test_taps_on_a_cap_do_not_wait_for_a_brace_they_do_not_reach():
    cap, brace = "bottom_valve_cap_1:cap_stuck:severe", "braces_and_finger_hooks:solder_broken:severe"
    told = plan("trumpet", *found(cap, brace))
    rungs = {rung["rung"] for step in told["steps"] for rung in step.get("next_rungs", ())}
    rungs |= {step["rung"] for step in told["steps"]}
    assert "taps" in rungs
    slide = plan("trumpet", *found("main tuning slide:slide_seized:severe", brace))
    rungs = {rung["rung"] for step in slide["steps"] for rung in step.get("next_rungs", ())}
    assert "taps" not in rungs


def test_rot_in_the_leadpipe_forbids_taps_at_the_mouthpiece_in_it():
    told = plan("trumpet", *found("mouthpiece:mouthpiece_stuck:severe", "leadpipe:red_rot:light"), "--bench", "basic")
    rungs = {rung["rung"] for step in told["steps"] for rung in step.get("next_rungs", ())}
    assert "dowel_taps" not in rungs | {step["rung"] for step in told["steps"]}


@pytest.mark.parametrize("bench", ["school", "full"])
@pytest.mark.parametrize("part", ["third_valve_slide", "main_tuning_slide"], ids=["valve slide", "tuning slide"])
def test_a_dented_slide_is_not_pulled_and_no_mandrel_goes_into_a_slide_that_is_in(part, bench):
    told = plan("trumpet", *found(f"{part}:slide_seized:light", f"{part}:dent_slide_leg:moderate"), "--bench", bench)
    assert steps_of(told) == ["play_test"]
    assert {one["method"] for one in told["sent_out"]} == {
        "crook_off_dent", "free_valve_slide" if part == "third_valve_slide" else "free_slide",
    }  # fmt: skip


def test_a_dented_hand_slide_is_not_pulled_whichever_tube_the_dent_is_in():
    for tube in ("inner_slide_tube_upper", "outer_slide_tube_lower"):
        told = plan("trombone", *found("inner_slide_tube_upper:slide_seized:light", f"{tube}:dent_slide_leg:severe"))
        assert not any("pull" in step["tags"] for step in told["steps"])


def test_a_dent_in_a_slide_that_moves_is_raised_here():
    told = plan("trumpet", *found("third_valve_slide:dent_slide_leg:moderate"), "--bench", "full")
    assert told["steps"][0]["method"] == "slide_leg_dent"


@pytest.mark.parametrize(
    "down", ["soundpost:soundpost_down:severe", "bridge:bridge_bad:severe", "bridge:missing_part:severe"]
)
def test_strings_are_slackened_before_anything_else_when_bridge_or_post_is_down(down):
    told = plan("cello", *found(down, "case:odor_mold:severe", "pegs:peg_slip:severe"))
    assert told["steps"][0]["method"] == "slacken_strings"
    assert all("slacken_strings" in step["prerequisites"] or step["prerequisites"] for step in told["steps"][1:])


def test_a_bridge_that_leans_a_little_keeps_its_strings():
    told = plan("cello", *found("bridge:bridge_bad:light"))
    assert "slacken_strings" not in steps_of(told)


def test_an_unknown_history_plans_the_full_cleaning_and_the_wash_of_what_touches_a_mouth():
    """Three stuck caps, two seized slides and light scale, from a closet."""
    said = found(
        *(f"bottom_valve_cap_{number}:cap_stuck:moderate" for number in (1, 2, 3)),
        "main tuning slide:slide_seized:severe",
        "second_valve_slide:slide_seized:severe",
        "leadpipe:lime_scale:light",
    )
    known, unknown = plan("trumpet", *said), plan("trumpet", *said, "--history", "unknown")
    assert {"mouthpiece_sanitize", "soap_bath_brass"}.isdisjoint(steps_of(known))
    assert {"mouthpiece_sanitize", "soap_bath_brass"} <= set(steps_of(unknown))
    assert sum(step["rung"] == "soak" for step in unknown["steps"]) == 5
    assert unknown["not_here"] == []
    assert [one["finding"]["part"] for one in known["left"]] == ["leadpipe"]
    assert unknown["left"] == []  # the bath that is owed takes the light scale along


@pytest.mark.parametrize(
    ("kind", "methods"),
    [
        ("clarinet_bb", {"mouthpiece_sanitize", "reeds_out", "hand_clean_woodwind"}),
        ("flute", {"lip_plate_clean", "hand_clean_woodwind"}),
        ("bassoon", {"bocal_rinse", "reeds_out", "hand_clean_woodwind"}),
        ("sax_alto", {"mouthpiece_sanitize", "neck_swab", "reeds_out", "hand_clean_woodwind"}),
        ("trombone", {"mouthpiece_sanitize", "soap_bath_brass"}),
        ("snare", set()),
        ("cello", set()),
    ],
)
def test_each_family_is_cleaned_in_its_own_way(kind, methods):
    told = plan(kind, "--history", "unknown")
    cleaned = {step["method"] for step in told["steps"] if "clean" in step["tags"] or "hygiene" in step["tags"]}
    assert cleaned == methods
    assert told["not_here"] == []


@pytest.mark.parametrize(
    ("kind", "part", "replaced", "washed"),
    [
        ("trumpet", "mouthpiece", "mouthpiece_replace", "mouthpiece_sanitize"),
        ("clarinet_bb", "mouthpiece", "mouthpiece_replace", "mouthpiece_sanitize"),
        ("bassoon", "bocal", "bocal_replace", "bocal_rinse"),
    ],
)
def test_what_is_missing_is_replaced_and_not_washed(kind, part, replaced, washed):
    steps = steps_of(plan(kind, *found(f"{part}:missing_part:severe"), "--history", "unknown"))
    assert f"{replaced}:{part}" in steps
    assert washed not in steps
    assert washed in steps_of(plan(kind, *found(f"{part}:lime_scale:light"), "--history", "unknown"))


def test_a_bench_that_cannot_bathe_it_says_so():
    told = plan("trumpet", "--history", "unknown", "--bench", "basic")
    tells = [*told["not_here"], *(step["method"] for step in told["steps"])]
    assert any("soap_bath_brass" in one or "Bathe" in one for one in tells)


def test_every_step_says_its_method_hazards_minutes_and_wait_in_words_too():
    out = StringIO()
    call_command("plan", "trumpet", *found("third_valve_slide:slide_seized:severe"), "--history", "unknown", stdout=out)
    assert "Bathe in lukewarm soapy water: 25 to 60 min, then 2 h, careful: bio [soap_bath_brass]" in out.getvalue()
    assert "    if that fails: Penetrating oil overnight" in out.getvalue()


def test_felts_of_all_valves_are_one_step_with_one_set():
    """About 12 minutes a set: common practice, no source."""
    said = [f"upper_felt_{number}:felt_missing:moderate" for number in (1, 2, 3)]
    told = plan("trumpet", *found(*said, "valve_spring_2:spring_weak:moderate", "valve_spring_3:spring_weak:light"))
    felts, springs = (
        next(one for one in told["steps"] if one["method"] == f"valve_{name}") for name in ("felts", "springs")
    )
    assert (len(felts["findings"]), len(springs["findings"])) == (3, 2)
    assert felts["minutes"]["likely"] == 12
    assert steps_of(told).count("valve_felts") == 1


def test_a_set_of_felts_replaces_no_other_missing_part():
    told = plan("trumpet", *found("upper_felt_1:missing_part:light", "finish:missing_part:light"))
    felts = next(one for one in told["steps"] if one["method"] == "valve_felts")
    assert [one["part"] for one in felts["findings"]] == ["upper_felt"]
    assert [one["finding"]["part"] for one in told["left"]] == ["finish"]


def test_new_cork_waits_for_a_stuck_slide_that_may_have_to_be_heated():
    cork = "tuning_slide_water_key:water_key_leak:moderate"
    hot = plan("trumpet", *found("main tuning slide:slide_seized:severe", cork), "--bench", "full")
    step = next(one for one in hot["steps"] if one["method"] == "water_key_cork")
    assert any(key.startswith("free_slide:") for key in step["prerequisites"])
    assert "a later try may heat it" in step["blocked_because"]
    cold = plan("trumpet", *found("top_valve_cap_1:cap_stuck:severe", cork), "--bench", "full")
    assert next(one for one in cold["steps"] if one["method"] == "water_key_cork")["prerequisites"] == []


def test_a_screw_that_may_be_heated_holds_back_no_cork_elsewhere_on_a_woodwind():
    said = found("mouthpiece_cork:tenon_cork_bad:severe", "pivot_screws:screw_stuck:severe")
    told = plan("clarinet", *said, "--bench", "full")
    cork = next(one for one in told["steps"] if one["method"] == "tenon_cork")
    assert any(one["method"] == "free_screw" for one in told["steps"])
    assert not any(key.startswith("free_screw") for key in cork["prerequisites"])
