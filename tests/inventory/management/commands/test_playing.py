import json

import pytest
from django.core.management import CommandError, call_command

NOTE_KEYS = {"written", "sounding", "state", "fingering", "cents", "cents_low", "cents_high"}


@pytest.fixture(autouse=True)
def _without_a_database(monkeypatch):
    monkeypatch.setattr("inventory.management.figures.is_district_there", lambda: False)


def run(capsys, *arguments: str):
    call_command("playing", *arguments)
    return capsys.readouterr()


def test_it_prints_json_alone(capsys):
    out = run(capsys, "trumpet", "--finding", "third_valve_slide:slide_seized:light", "--json")
    told = json.loads(out.out)
    assert out.err == ""
    assert told["verdict"] == "plays_with_limits"
    assert told["tuning_range"]["can_reach_a440"] is True
    assert all(set(note) == NOTE_KEYS for note in told["notes"])
    by_name = {note["written"]: note for note in told["notes"]}
    sharp = {"cents": 30.315, "cents_low": 30.315, "cents_high": 30.315}
    assert by_name["D4"] == {"written": "D4", "sounding": 60, "state": "off", "fingering": "13"} | sharp


def test_a_slide_that_corrects_gives_a_band(capsys):
    """Lengths of 2^(s/12) - 1; the third slide takes 1+3 from 30.3 cents sharp into tune."""
    told = json.loads(run(capsys, "trumpet", "--json", "--level", "concert").out)
    by_name = {note["written"]: note for note in told["notes"]}
    band = ("cents", "cents_low", "cents_high")
    assert [by_name["D4"][key] for key in band] == [30.315, 0.0, 30.315]
    assert [by_name["C4"][key] for key in band] == [0.0, 0.0, 0.0]
    assert [by_name["E5"][key] for key in band] == [0.0, -13.686, 0.0]  # the fifth partial


def test_a_lost_note_has_no_cents(capsys):
    told = json.loads(run(capsys, "trumpet", "--finding", "piston_1:valve_stuck:severe", "--json").out)
    lost = [note for note in told["notes"] if note["state"] == "lost"]
    assert len(lost) == 6
    assert all(note["cents"] is note["cents_low"] is note["cents_high"] is None for note in lost)


def test_findings_add_up_and_take_a_detail(capsys):
    arguments = ["trumpet", "--json", "--level", "second-year"]
    arguments += [
        "--finding",
        "piston_2:valve_stuck:severe:down",
        "--finding",
        "main_tuning_slide:slide_seized:moderate:pulled 0 mm",
    ]
    told = json.loads(run(capsys, *arguments).out)
    assert told["level"] == "second_year"
    assert told["tuning_range"]["can_reach_a440"] is False
    assert all("2" in note["fingering"] for note in told["notes"] if note["state"] != "lost")


@pytest.mark.parametrize(
    "finding",
    [
        "piston_2:valve_stuck:severe:Down",
        "piston_2:valve_sluggish:severe:slow",
        "main_tuning_slide:slide_seized:severe:pulled 12.5 mm",
        "main_tuning_slide:slide_seized:severe:5mm",
        "brace:brace_missing:moderate:ring",
        "piston_2:valve_stuck:severe:",
    ],
)
def test_every_detail_that_the_rules_take_is_taken(capsys, finding):
    assert json.loads(run(capsys, "trumpet", "--finding", finding, "--json").out)["verdict"]


def test_an_instrument_that_cannot_be_tuned_is_said_to_be_in_the_way_of_everybody(capsys):
    call_command("playing", "trumpet", "--finding", "main_tuning_slide:slide_seized:severe:pulled 0 mm", "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["tuning_range"]["can_reach_a440"] is False
    assert "cannot be tuned to A = 440" in told["fit"]
    assert all(note["cents"] is not None for note in told["notes"])


def test_notes_without_a_fingering_are_named(capsys):
    told = json.loads(run(capsys, "tuba", "--option", "key=CC", "--level", "concert", "--json").out)
    assert told["uncharted"] == ["E1", "F1"]
    assert "no fingering for them: E1, F1" in run(capsys, "tuba", "--option", "key=CC", "--level", "concert").out


def test_an_option_changes_the_instrument(capsys):
    told = json.loads(run(capsys, "euphonium", "--option", "valves=3", "--json").out)
    assert {note["written"]: note["fingering"] for note in told["notes"]}["C3"] == "13"


def test_without_json_it_prints_a_table(capsys):
    out = run(capsys, "clarinet_bb", "--finding", "lower_keys_E_B_pad:pad_leak:severe").out
    assert "Clarinet" in out
    assert "lost" in out
    assert "unverified" in out


@pytest.mark.parametrize(
    ("arguments", "known"),
    [
        (["kazoo"], "trumpet"),
        (["trumpet", "--finding", "elbow:slide_seized:light"], "third_valve_slide"),
        (["trumpet", "--finding", "third_valve_slide:slide_haunted:light"], "slide_seized"),
        (["trumpet", "--finding", "third_valve_slide:pad_leak:light"], "slide_seized"),
        (["trumpet", "--finding", "third_valve_slide:slide_seized:awful"], "light, moderate, severe"),
        (["trumpet", "--finding", "third_valve_slide"], "PART:FAULT:SEVERITY"),
        (["trumpet", "--finding", "piston_2:valve_stuck:severe:sideways"], "up, down, slow"),
        (["trumpet", "--finding", "main_tuning_slide:slide_seized:severe:down"], "pulled 12 mm"),
        (["trombone", "--finding", "inner_slide:slide_seized:severe:position 8"], "position 7"),
        (["trumpet", "--finding", "bell:bell_bent:severe:down"], "Known: none"),
        (["trumpet", "--level", "tenth-year"], "first-year"),
        (["trumpet", "--option", "wheels=4"], "third_slide"),
        (["euphonium", "--option", "valves=9"], "3, 4"),
        (["euphonium", "--option", "valves=3", "--finding", "piston_4:valve_stuck:severe"], "piston"),
    ],
)
def test_what_is_unknown_is_refused_with_what_is_known(arguments, known):
    with pytest.raises(CommandError, match=known) as refusal:
        call_command("playing", *arguments)
    assert refusal.value.returncode == 2
