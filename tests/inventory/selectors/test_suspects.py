from __future__ import annotations

from functools import partial

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import PlayTest
from inventory.rules.diagnose import Diagnosis, Heard, diagnose, predictions
from inventory.selectors.suspects import diagnosis_of
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument


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
