from __future__ import annotations

from datetime import timedelta
from functools import partial

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import PlayTest
from inventory.rules.diagnose import Diagnosis, Heard, diagnose, predictions
from inventory.selectors.playing import (
    all_notes,
    diagnosis_of,
    earlier_test,
    levels_of,
    measured,
    notes_at,
    play_tests_of,
    surprises_of,
    tuning_trend,
)
from inventory.selectors.standing import standing_of
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument


def record(instrument, tech, *, days: int = 0, **told) -> PlayTest:
    at = NOW + timedelta(days=days)
    return record_play_test(instrument=instrument, result="pass", actor=tech, at=at, **told)


def measures(*cents: float, spoke: bool = True) -> list[dict[str, object]]:
    notes = ("C4", "G4", "C5", "G5", "C6")
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
    horn = make_ready_instrument(school=school)
    first, last = record(horn, tech, days=400, measures=measures(2.0)), record(horn, tech, days=500)
    assert play_tests_of(horn)[-2:] == [first, last]
    assert earlier_test(last) == first


def test_a_note_that_did_not_speak_is_not_measured_and_a_warm_room_is_corrected(school, tech):
    horn = make_ready_instrument(school=school)
    assert measured(record(horn, tech, measures=measures(5.0, spoke=False))) == {}
    assert measured(record(horn, tech, measures=measures(5.0))) == {"C4": 5.0}
    assert measured(record(horn, tech, measures=measures(5.0), room_celsius=30))["C4"] < 5.0


def test_the_trend_holds_only_tests_that_measured_oldest_first(school, tech):
    horn = make_ready_instrument(school=school)
    record(horn, tech, days=365, measures=measures(-7.0))
    record(horn, tech, days=400)
    record(horn, tech, days=1, measures=measures(0.0))
    assert [cents for _, cents in tuning_trend(horn)] == [0.0, -7.0]


def test_one_note_far_off_the_others_is_a_surprise(school, tech):
    horn = make_ready_instrument(school=school)
    report = standing_of(horn).widest_report
    test = record(horn, tech, measures=measures(0.0, 0.0, 0.0, 60.0, 0.0))
    assert [one.written for one in surprises_of(test, report=report)] == ["G5"]


def failed(instrument, tech, *notes: str) -> PlayTest:
    return record_play_test(instrument=instrument, result="fail", failed_notes=notes, actor=tech, at=NOW)


def diagnosed(kind, heard: Heard) -> Diagnosis:
    trade, chart = catalog(), chart_of(kind, {})
    predict = partial(predictions, kind, chart=chart, options={}, faults=trade.faults, roles=trade.roles)
    return diagnose(heard, kind=kind, chart=chart, faults=trade.faults, predict=predict)


def test_without_a_bad_note_there_is_no_diagnosis(school, tech):
    horn = make_ready_instrument(school=school)
    assert diagnosis_of(record_play_test(instrument=horn, result="pass", actor=tech, at=NOW), horn) is None


def test_notes_not_played_speak_for_and_against_nobody(school, tech):
    horn = make_ready_instrument(school=school, kind_code="clarinet_bb")
    test = failed(horn, tech, "E3")
    whole = diagnosis_of(test, horn)
    test.tried_notes = ["E3", "G3", "C4"]
    some = diagnosis_of(test, horn)
    assert some.tried == ("E3", "G3", "C4")
    assert sum(one.rank == 1 for one in some.suspects) > sum(one.rank == 1 for one in whole.suspects)


def test_what_is_remembered_is_what_would_be_worked_out(school, tech):
    horn = make_ready_instrument(school=school, kind_code="clarinet_bb")
    for notes in (("E3", "F3"), ("C6",)):
        afresh = diagnosed(horn.kind, Heard(failed=notes, tells_weak=True))
        assert diagnosis_of(failed(horn, tech, *notes), horn) == afresh
