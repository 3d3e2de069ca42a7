"""The command that plans a season from a file."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from desk.rules.season_plan import plan_season
from tests.factories import make_district, make_ready_instrument
from tests.loans.makers import make_ensemble, make_seat

ROOT = Path(__file__).parents[4]
SEASON = {
    "seats": [{"id": "wind", "kind": "tuba", "count": 2}],
    "candidates": [
        {"id": "U1", "kind": "tuba", "options": [{"do": "repair", "hours": 2, "parts": "10.00", "bench": "main"}]},
        {"id": "U2", "kind": "tuba", "options": [{"do": "send_out", "price": 90.5}]},
    ],
    "budgets": {"bench_hours": 1, "shop_money": 100},
}


def plan(tmp_path, content: object, *words: str, is_json: bool = True) -> str:
    file = tmp_path / "season.json"
    file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    out = StringIO()
    call_command("season_plan", "--file", str(file), *words, *(["--json"] if is_json else []), stdout=out)
    return out.getvalue()


def test_a_file_is_planned(tmp_path):
    told = json.loads(plan(tmp_path, SEASON))
    assert (told["seated"], told["cost"], told["gap"], told["proven"]) == (1, "90.50", 0.0, True)
    assert {one["id"]: one["do"] for one in told["decisions"]} == {"U1": "leave", "U2": "send_out"}


@pytest.mark.parametrize(
    ("words", "seated"),
    [
        (("--bench-hours", "2"), 2),
        (("--bench-hours", "main=2"), 2),
        (("--bench-hours", "2", "--repair-money", "9.99"), 1),
        (("--bench-hours", "2", "--shop-money", "0"), 1),
        (("--shop-money", "90.49"), 0),
        (("--purchase-money", "0", "--goal", "most"), 1),
    ],
    ids=str,
)
def test_what_is_said_on_the_line_takes_the_place_of_the_file(tmp_path, words, seated):
    assert json.loads(plan(tmp_path, SEASON, *words))["seated"] == seated


def test_what_more_would_buy_is_said_when_asked(tmp_path):
    more = json.loads(plan(tmp_path, SEASON, "--more"))["more"]
    assert {(one["budget"], one["more"], one["seats"]) for one in more} == {
        ("bench_hours", "5.00", 1), ("shop_money", "100.00", 0), ("shop_money", "500.00", 0),
    }  # fmt: skip


def test_without_json_it_is_sentences(tmp_path):
    lines = plan(tmp_path, SEASON, is_json=False).splitlines()
    assert lines[0] == "1 of 2 seats filled for $90.50 and 0.00 hours."
    assert "U2: send out, $90.50 → wind" in lines
    assert "U1: leave: Needs more than an entire budget by itself" in lines
    assert lines[-1] == "Proven best: no plan is better."


def test_a_plan_that_is_not_proven_best_says_by_how_much(tmp_path, monkeypatch):
    def unproven(season, **limits):
        return replace(plan_season(season, **limits), is_proven=False, gap=0.0123)

    monkeypatch.setattr("desk.management.commands.season_plan.plan_season", unproven)
    assert plan(tmp_path, SEASON, is_json=False).splitlines()[-1] == (
        "Not proven best: a better plan gains at most 1.23%."
    )


@pytest.mark.django_db
def test_without_a_file_the_district_is_planned(school):
    make_district()
    make_seat(place=make_ensemble(school=school), kind_code="trumpet")
    horn = make_ready_instrument(school=school)
    out = StringIO()
    call_command("season_plan", "--school", school.code, "--json", stdout=out)
    told = json.loads(out.getvalue())
    assert (told["seated"], told["wanted"], told["cost"]) == (1, 1, "0.00")
    assert [(one["id"], one["do"]) for one in told["decisions"]] == [(horn.asset_number, "use")]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--school", "NOWHERE"), "there is no such school"),
        (("--needed-by", "August"), "must be a date"),
        (("--shop-days", "0"), "from 1 to 365"),
    ],
    ids=["school", "day", "days"],
)
def test_bad_input_about_the_district_is_said_in_a_sentence(school, words, reason):
    make_district()
    with pytest.raises(CommandError, match=reason) as refusal:
        call_command("season_plan", *words)
    assert refusal.value.returncode == 2


def test_what_is_of_the_district_is_refused_with_a_file(tmp_path):
    with pytest.raises(CommandError, match="cannot be used with --file"):
        plan(tmp_path, SEASON, "--no-purchases")


@pytest.mark.parametrize(
    ("content", "words", "reason"),
    [
        ("not json", (), "is not JSON"),
        ("[" * 100_000, (), "is not JSON"),
        ('{"seats": [{"kind": "tuba", "weight": NaN}]}', (), "NaN is not a number"),
        ({"seats": []}, (), "at least one"),
        (SEASON, ("--bench-hours", "many"), "--bench-hours must be a number"),
        (SEASON, ("--bench-hours", "main=2", "--bench-hours", "main=3"), "once per bench"),
        (SEASON, ("--bench-hours", "main=2", "--bench-hours", "3"), "once per bench"),
        (SEASON, ("--bench-hours", "annex=2"), "bench 'main' is not among"),
        (SEASON, ("--repair-money", "-1"), "--repair-money must be a number from 0"),
        (SEASON, ("--shop-money", "1.005"), "at most two places"),
        (SEASON, ("--seconds", "0"), "--seconds must be above 0"),
        (SEASON, ("--seconds", "nan"), "--seconds must be above 0"),
    ],
    ids=range(12),
)
def test_bad_input_is_said_in_a_sentence(tmp_path, content, words, reason):
    with pytest.raises(CommandError) as refusal:
        plan(tmp_path, content, *words)
    assert refusal.value.returncode == 2
    assert reason in str(refusal.value)


def test_a_file_that_is_not_there_is_said(tmp_path):
    with pytest.raises(CommandError, match="cannot be read") as refusal:
        call_command("season_plan", "--file", str(tmp_path / "none.json"))
    assert refusal.value.returncode == 2


def test_it_needs_no_database_and_prints_json_alone(tmp_path):
    file = tmp_path / "season.json"
    file.write_text(json.dumps(SEASON), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "manage.py", "season_plan", "--file", str(file), "--json"],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={"PATH": "/usr/bin:/bin", "DATABASE_URL": f"sqlite:///{tmp_path}/none.sqlite3", "HORNBOOK_VAR_DIR": str(tmp_path)},
    )  # fmt: skip
    assert (done.returncode, json.loads(done.stdout)["seated"]) == (0, 1)
    assert not (tmp_path / "none.sqlite3").exists()


def test_a_wrong_option_ends_with_2(tmp_path):
    done = subprocess.run(
        [sys.executable, "manage.py", "season_plan", "--goal", "best"],
        cwd=ROOT, capture_output=True, text=True, check=False, env={"PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
