from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.models import PlayTest
from inventory.pages.charts import fingering_text
from inventory.pages.playing import play_test_page, play_test_result
from inventory.pages.suspects import shown_note
from inventory.rules.pitch import temperature_cents
from inventory.selectors.playing import all_notes
from inventory.services.care import record_play_test
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument


@pytest.fixture
def trumpet(school):
    return make_ready_instrument(school=school)


def measure(written: str, cents: float) -> dict[str, object]:
    return {"written": written, "cents": cents, "spread": 0.0, "tries": 1, "spoke": True}


def record(instrument, tech, **told) -> PlayTest:
    return record_play_test(**{"instrument": instrument, "result": "pass", "actor": tech, "at": NOW} | told)


def test_a_trumpet_sounds_a_whole_step_below_what_is_written(trumpet):
    """Written C4 in Bb sounds Bb3 = 233.08 Hz (equal temperament at A4 = 440; common tables)."""
    notes = {note["written"]: note for note in play_test_page(trumpet, level="first_year")["notes"]}
    assert notes["C4"]["hertz"] == pytest.approx(233.08, abs=0.01)
    assert notes["C4"]["fingering"] == "open"
    assert notes["D4"]["fingering"] == "1-3"
    assert shown_note("Eb4") == "E♭4"
    assert shown_note("C#4") == "C♯4"


@pytest.mark.parametrize(
    ("kind_code", "fingering", "said"),
    [
        ("trumpet", "0", "open"),
        ("trumpet", "123", "1-2-3"),
        ("horn_double", "T2", "T 2"),
        ("horn_double", "T0", "T open"),
        ("trombone", "4", "position 4"),
        ("trombone_f", "T1", "position 1 with trigger"),
        ("clarinet_bb", "T L1 L2", "T L1 L2"),
        ("marimba", "bar", ""),
    ],
)
def test_fingerings_are_written_as_a_band_room_says_them(kind_code, fingering, said):
    assert fingering_text(catalog().kinds[kind_code], fingering) == said


def test_an_unknown_level_is_the_first_year(trumpet):
    assert play_test_page(trumpet, level="<x>")["level"] == "first_year"
    assert len(play_test_page(trumpet, level="concert")["notes"]) >= len(play_test_page(trumpet, level="x")["notes"])
    assert {note["written"] for note in play_test_page(trumpet, level="first_year")["notes"]} <= set(all_notes(trumpet))


def test_a_warm_room_is_taken_away_and_said(trumpet, tech):
    test = record(trumpet, tech, measures=[measure("C4", 20.0)], room_celsius=Decimal("26.0"))
    result = play_test_result(test)
    assert result["room_cents"] == pytest.approx(temperature_cents(26.0))
    assert result["lines"][0]["corrected"] == pytest.approx(20.0 - temperature_cents(26.0))
    assert 0 < result["lines"][0]["corrected"] < 20.0


def test_a_slide_pushed_in_makes_no_note_a_surprise(trumpet, tech):
    healthy = {note["written"]: note["predicted"] for note in play_test_page(trumpet, level="first_year")["notes"]}
    measures = [measure(written, cents + 18.0) for written, cents in healthy.items()]
    assert play_test_result(record(trumpet, tech, measures=measures))["surprises"] == []


def test_a_note_that_speaks_although_a_finding_takes_it_is_called_out(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2", "up")], actor=tech)
    lost = [
        note["written"] for note in play_test_page(instrument, level="first_year")["notes"] if note["state"] == "lost"
    ]
    result = play_test_result(record(instrument, tech, measures=[measure(lost[0], 0.0)]))
    assert any("although a finding says otherwise" in sentence for sentence in result["surprises"])


def test_suspects_explain_the_notes_that_failed_best_first(trumpet, tech):
    result = play_test_result(record(trumpet, tech, result="fail", failed_notes=["B3", "E4", "Eb4"]))
    spots = result["suspects"]["spots"]
    assert spots
    assert {spot["part"] for spot in spots} <= {part.code for part in trumpet.parts}
    assert all(test for spot in spots for _, test in spot["faults"])


@pytest.mark.parametrize(
    ("again", "says"),
    [
        ([], "not the instrument"),
        (["C4", "E4"], "it is the instrument"),
        (["E4"], "that is the instrument. C4 speaks for the second"),
    ],
)
def test_a_second_opinion_is_compared_with_the_first(trumpet, tech, again, says):
    record(trumpet, tech, result="fail", failed_notes=["C4", "E4"])
    told = {"failed_notes": again, "result": "fail" if again else "pass", "at": NOW + timedelta(hours=1)}
    second = record(trumpet, tech, is_second_opinion=True, **told)
    assert says in play_test_result(second)["opinion"]


@pytest.mark.parametrize(
    ("tried", "says"),
    [
        (["E4", "G4"], "For both players E4 fails: that is the instrument. C4 was not played again."),
        (["C4", "E4"], "For both players E4 fails: that is the instrument. C4 speaks for the second player"),
    ],
)
def test_a_note_that_the_second_player_did_not_play_is_not_called_sound(trumpet, tech, tried, says):
    record(trumpet, tech, result="fail", failed_notes=["C4", "E4"])
    told = {"failed_notes": ["E4"], "tried_notes": tried, "result": "fail", "at": NOW + timedelta(hours=1)}
    assert says in play_test_result(record(trumpet, tech, is_second_opinion=True, **told))["opinion"]


def test_drift_over_the_years_is_flagged(trumpet, tech):
    for year, cents in enumerate((0.0, -7.0, -15.0, -21.0)):
        test = record(trumpet, tech, measures=[measure("C4", cents)], at=NOW + timedelta(days=365 * year))
    assert [cents for _, cents in play_test_result(test)["trend"]] == [0.0, -7.0, -15.0, -21.0]
    assert play_test_result(test)["drift"].is_flagged


LOW = ("C4", "E4", "F4", "G4", "A4", "B4")


def test_the_whole_instrument_is_said_first_and_what_to_do(trumpet, tech):
    test = record(trumpet, tech, measures=[measure(written, -43.0) for written in LOW])
    result = play_test_result(test)
    assert "cents flat throughout. Push the main slide" in result["throughout"]
    assert result["surprises"] == []
    sharp = play_test_result(record(trumpet, tech, measures=[measure(written, 43.0) for written in LOW]))
    assert "cents sharp throughout. Pull" in sharp["throughout"]
    assert play_test_result(record(trumpet, tech, measures=[measure(w, 5.0) for w in LOW]))["throughout"] == ""


def test_a_note_is_said_to_stand_out_and_from_what(trumpet, tech):
    record(trumpet, tech, measures=[measure(written, 0.0) for written in LOW])
    later = [measure(written, -30.0 if written == "A4" else 0.0) for written in LOW]
    (said,) = play_test_result(record(trumpet, tech, measures=later, at=NOW + timedelta(days=30)))["surprises"]
    assert said.startswith("A4 is 30 cents flatter than the rest, compared with earlier tests")


@pytest.mark.parametrize(
    ("kind_code", "told", "says"),
    [
        ("trumpet", {}, "not recorded"),
        ("trumpet", {"room_celsius": Decimal(26)}, "accounts for +18 to +20 cents"),
        ("trumpet", {"room_celsius": Decimal(30)}, "accounts for +29 to +33 cents"),
        ("trumpet", {"room_celsius": Decimal("30.1")}, "the correction is rough"),
        ("trumpet", {"room_celsius": Decimal("9.9")}, "the correction is rough"),
        ("trumpet", {"room_celsius": Decimal(31), "is_tuned_first": True}, "Tuned first: cents as measured"),
        ("marimba", {"room_celsius": Decimal(30)}, "moves metal bars by -5 to -2 cents"),
        ("violin", {"room_celsius": Decimal(30)}, "tuned by hand"),
    ],
)
def test_what_the_room_did_is_said(school, tech, kind_code, told, says):
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    words = play_test_result(record(instrument, tech, **told))["room_words"]
    assert says in words
    assert ("rough" in words) is ("rough" in says)


def test_a_reed_is_named_only_where_there_is_one(school, tech):
    for kind_code, has in (("trumpet", False), ("clarinet_bb", True), ("flute", False)):
        instrument = make_ready_instrument(school=school, kind_code=kind_code)
        record(instrument, tech, result="fail", failed_notes=["C5"])
        again = record(instrument, tech, is_second_opinion=True, at=NOW + timedelta(hours=1))
        assert ("reed" in play_test_result(again)["opinion"]) is has
