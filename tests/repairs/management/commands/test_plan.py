"""The command that plans findings on a kind."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command


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
