import json

import pytest
from django.core.management import CommandError, call_command


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


@pytest.mark.parametrize(
    ("arguments", "known"),
    [
        (["kazoo", "--failed", "C4"], "trumpet"),
        (["trumpet", "--failed", "H4"], "C#4"),
        (["trumpet", "--failed", "C4,C9"], "C#4"),
        (["trumpet", "--failed", ","], "at least one note"),
        (["snare_kit", "--failed", "C4"], "no chart"),
    ],
)
def test_what_is_unknown_is_refused_with_what_is_known(arguments, known):
    with pytest.raises(CommandError, match=known) as refusal:
        call_command("diagnose", *arguments)
    assert refusal.value.returncode == 2
