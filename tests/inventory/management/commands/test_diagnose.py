import json

import pytest
from django.core.management import CommandError, call_command


@pytest.fixture(autouse=True)
def _without_a_database(monkeypatch):
    monkeypatch.setattr("inventory.management.figures.is_district_there", lambda: False)


def test_it_prints_suspects_in_order(capsys):
    call_command("diagnose", "trumpet", "--failed", "Db4,D4", "--json")
    out = capsys.readouterr()
    told = json.loads(out.out)
    assert out.err == ""
    assert told["failed"] == ["C#4", "D4"]
    best = told["suspects"][0]
    assert (best["part"], best["fault"], best["rank"]) == ("third_valve_slide", "slide_seized", 1)
    assert best["test"]
    assert [one["rank"] for one in told["suspects"]] == sorted(one["rank"] for one in told["suspects"])


def test_without_json_it_prints_a_table(capsys):
    call_command("diagnose", "clarinet_bb", "--failed", "E3,F3", "--level", "first-year")
    out = capsys.readouterr().out
    assert "1. " in out
    assert "Going down, F3 fails first" in out


def test_what_was_played_and_what_was_weak_may_be_said(capsys):
    call_command("diagnose", "trumpet", "--weak", "E4", "--tried", "C4,Fb4,G4", "--json")
    told = json.loads(capsys.readouterr().out)
    assert (told["failed"], told["tried"]) == (["E4"], ["C4", "E4", "G4"])
    assert {note for one in told["suspects"] for note in one["extra"]} <= {"C4", "G4"}


def test_a_cause_says_what_it_would_have_to_be_like(capsys):
    call_command("diagnose", "trombone", "--failed", "B2", "--json")
    assert json.loads(capsys.readouterr().out)["suspects"][0]["causes"][0]["detail"] == "position 6"
    call_command("diagnose", "trombone", "--failed", "B2")
    assert "(position 6)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "known"),
    [
        (["kazoo", "--failed", "C4"], "trumpet"),
        (["trumpet", "--failed", "H4"], "C#4"),
        (["trumpet", "--failed", "C4,C9"], "C#4"),
        (["trumpet", "--failed", ","], "at least one note"),
        (["trumpet"], "at least one note"),
        (["trumpet", "--failed", "C4", "--weak", "H4"], "C#4"),
        (["trumpet", "--failed", "C4", "--tried", "C9"], "C#4"),
        (["snare_kit", "--failed", "C4"], "no chart"),
    ],
)
def test_what_is_unknown_is_refused_with_what_is_known(arguments, known):
    with pytest.raises(CommandError, match=known) as refusal:
        call_command("diagnose", *arguments)
    assert refusal.value.returncode == 2


def test_what_no_note_of_the_range_tells_is_listed(capsys):
    call_command("diagnose", "sax_alto", "--failed", "C5", "--json")
    told = json.loads(capsys.readouterr().out)
    assert {"part": "palm_keys_palm_F", "fault": "pad_sticky"} in told["silent"]
    call_command("diagnose", "sax_alto", "--failed", "C5")
    assert "No note of this range tells, at some places: " in capsys.readouterr().out
