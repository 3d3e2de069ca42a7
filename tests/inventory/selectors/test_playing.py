from __future__ import annotations

from datetime import timedelta

from inventory.models import PlayTest
from inventory.selectors.playing import (
    all_notes,
    diagnosis_of,
    earlier_test,
    intonation_of,
    levels_of,
    measured,
    notes_at,
    play_tests_of,
    room_cents,
    sibling_tests,
    slide_shift,
    tuning_trend,
)
from inventory.selectors.standing import standing_of
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument
from tests.inventory.rules.cases import make_diagnosis


def record(instrument, tech, *, days: int = 0, **told) -> PlayTest:
    at = NOW + timedelta(days=days)
    return record_play_test(instrument=instrument, result="pass", actor=tech, at=at, **told)


def measures(*cents: float, spoke: bool = True) -> list[dict[str, object]]:
    notes = ("C4", "G4", "C5", "G5", "E5")
    return [
        {"written": note, "cents": value, "spread": 0.0, "tries": 1, "spoke": spoke}
        for note, value in zip(notes, cents, strict=False)
    ]


def test_all_notes_hold_those_of_every_level_and_none_is_needed_at_a_level_that_the_kind_has_not(school):
    trumpet = make_ready_instrument(school=school)
    standing = standing_of(trumpet)
    assert levels_of(standing.kind)[0] == "first_year"
    for level in levels_of(standing.kind):
        assert set(notes_at(standing, level)) <= set(all_notes(trumpet))
    assert notes_at(standing, "no_such_level") == ()


def test_tests_are_read_in_order_and_each_knows_the_one_before(school, tech):
    instrument = make_ready_instrument(school=school)
    first, last = record(instrument, tech, days=400, measures=measures(2.0)), record(instrument, tech, days=500)
    assert play_tests_of(instrument)[-2:] == [first, last]
    assert earlier_test(last) == first


def test_a_note_that_did_not_speak_is_not_measured_and_a_warm_room_is_corrected(school, tech):
    instrument = make_ready_instrument(school=school)
    assert measured(record(instrument, tech, measures=measures(5.0, spoke=False))) == {}
    assert measured(record(instrument, tech, measures=measures(5.0))) == {"C4": 5.0}
    assert measured(record(instrument, tech, measures=measures(5.0), room_celsius=30))["C4"] < 5.0


def test_the_trend_holds_only_tests_that_measured_oldest_first(school, tech):
    instrument = make_ready_instrument(school=school)
    record(instrument, tech, days=365, measures=measures(-7.0))
    record(instrument, tech, days=400)
    record(instrument, tech, days=1, measures=measures(0.0))
    assert [cents for _, cents in tuning_trend(instrument)] == [0.0, -7.0]


def test_one_note_far_off_the_others_is_a_surprise_until_it_was_always_so(school, tech):
    instrument = make_ready_instrument(school=school)
    report = standing_of(instrument).widest_report
    test = record(instrument, tech, measures=measures(0.0, 0.0, 0.0, 90.0, 0.0))
    assert [one.written for one in intonation_of(test, report=report).surprises] == ["G5"]
    again = record(instrument, tech, days=30, measures=measures(0.0, 0.0, 0.0, 90.0, 0.0))
    assert intonation_of(again, report=report).surprises == ()


def test_others_of_its_model_count_with_their_latest_test(school, tech):
    instrument, twin, other = (
        make_ready_instrument(school=school, maker="Plain", model=model) for model in ("1", "1", "2")
    )
    record(twin, tech, measures=measures(1.0))
    latest = record(twin, tech, days=3, measures=measures(2.0))
    record(twin, tech, days=4)
    record(other, tech, measures=measures(3.0))
    assert sibling_tests(instrument) == [latest]
    assert sibling_tests(make_ready_instrument(school=school)) == []


def test_an_instrument_tuned_first_owes_nothing_to_the_room_and_neither_do_bars(school, tech):
    instrument, bars = make_ready_instrument(school=school), make_ready_instrument(school=school, kind_code="marimba")
    assert room_cents(record(instrument, tech, measures=measures(5.0), room_celsius=30)) > 20
    tuned = record(instrument, tech, measures=measures(5.0), room_celsius=30, is_tuned_first=True)
    assert room_cents(tuned) is None
    assert measured(tuned) == {"C4": 5.0}
    assert room_cents(record(bars, tech, measures=measures(5.0), room_celsius=30)) is None


def test_tuning_in_a_warm_room_is_no_drift(school, tech):
    """Played in tune at 20, 26 and 30 degrees, tuned each time: nothing moved."""
    instrument = make_ready_instrument(school=school)
    for days, celsius in ((0, 20), (200, 26), (400, 30)):
        record(instrument, tech, days=days, measures=measures(0.0, 1.0), room_celsius=celsius, is_tuned_first=True)
    assert [cents for _, cents in tuning_trend(instrument)] == [0.5, 0.5, 0.5]


def test_a_slide_farther_out_counts_as_if_it_stood_at_pitch(school, tech):
    """A trumpet of 1473 mm of air at pitch with 12 mm out: 16 mm are 8 mm more of tube, 9.4 cents (own arithmetic)."""
    instrument = make_ready_instrument(school=school)
    assert slide_shift(record(instrument, tech, measures=measures(0.0), slide_mm=12)) == 0
    assert slide_shift(record(instrument, tech, measures=measures(0.0))) == 0
    out = record(instrument, tech, measures=measures(0.0), slide_mm=16)
    assert round(slide_shift(out), 1) == 9.4
    warm = record(instrument, tech, measures=measures(0.0), slide_mm=16, room_celsius=25, is_tuned_first=True)
    assert round(slide_shift(warm), 1) == -5.3  # less 14.6 for the room


def failed(instrument, tech, *notes: str) -> PlayTest:
    return record_play_test(instrument=instrument, result="fail", failed_notes=notes, actor=tech, at=NOW)


def test_without_a_bad_note_there_is_no_diagnosis(school, tech):
    instrument = make_ready_instrument(school=school)
    assert diagnosis_of(record_play_test(instrument=instrument, result="pass", actor=tech, at=NOW), instrument) is None


def test_notes_not_played_speak_for_and_against_nobody(school, tech):
    instrument = make_ready_instrument(school=school, kind_code="clarinet_bb")
    test = failed(instrument, tech, "E3")
    whole = diagnosis_of(test, instrument)
    test.tried_notes = ["E3", "G3", "C4"]
    some = diagnosis_of(test, instrument)
    assert some.tried == ("E3", "G3", "C4")
    assert sum(one.rank == 1 for one in some.suspects) > sum(one.rank == 1 for one in whole.suspects)


def test_what_is_remembered_is_what_would_be_worked_out(school, tech):
    instrument = make_ready_instrument(school=school, kind_code="clarinet_bb")
    for notes in (("E3", "F3"), ("C6",)):
        afresh = make_diagnosis("clarinet_bb", *notes, weak=[])
        assert diagnosis_of(failed(instrument, tech, *notes), instrument) == afresh
