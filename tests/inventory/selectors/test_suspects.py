from __future__ import annotations

import pytest

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import PlayTest
from inventory.rules.diagnose import diagnose
from inventory.selectors.suspects import diagnosis_of, grouped, spots_of, telling
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument


def failed(instrument, tech, *notes: str) -> PlayTest:
    return record_play_test(instrument=instrument, result="fail", failed_notes=notes, actor=tech, at=NOW)


def test_a_test_that_failed_no_note_has_no_suspect(school, tech):
    horn = make_ready_instrument(school=school)
    test = record_play_test(instrument=horn, result="pass", actor=tech, at=NOW)
    assert spots_of(test, horn) is None
    assert spots_of(None, horn) is None


def test_faults_at_one_spot_stand_together_each_with_its_test(school, tech):
    horn = make_ready_instrument(school=school, kind_code="clarinet_bb")
    found = spots_of(failed(horn, tech, "E3", "F3"), horn, most=50)
    places = [spot.where for spot in found.spots]
    assert len(places) == len(set(places))
    assert len(found.spots[0].faults) > 1
    assert all(test for spot in found.spots for _, test in spot.faults)
    assert [spot.rank for spot in found.spots] == sorted(spot.rank for spot in found.spots)


def test_no_suspect_is_dropped_but_the_weaker_faults_of_a_spot(school):
    kind = catalog().kinds["clarinet_bb"]
    diagnosis = diagnose(
        kind=kind, chart=chart_of(kind), options={}, failed=["E3", "F3"], faults=catalog().faults, roles=catalog().roles
    )
    spots = grouped(diagnosis, kind=kind)
    assert len(spots) == len({tuple((c.part, c.place) for c in one.causes) for one in diagnosis.suspects})
    assert sum(suspect.rank == 1 for suspect in diagnosis.suspects) == sum(
        len(spot.faults) for spot in spots if spot.rank == 1
    )


@pytest.mark.parametrize("most", [1, 3])
def test_what_is_not_shown_is_counted(school, tech, most):
    horn = make_ready_instrument(school=school, kind_code="clarinet_bb")
    test = failed(horn, tech, "E3", "F3")
    whole = spots_of(test, horn, most=500)
    some = spots_of(test, horn, most=most)
    assert len(some.spots) + some.more == len(whole.spots)


def test_notes_that_the_chart_has_not_any_more_name_nobody(school, tech):
    horn = make_ready_instrument(school=school)
    test = failed(horn, tech, "D4")
    test.failed_notes = ["H9"]
    assert spots_of(test, horn) is None


def test_a_test_is_told_without_the_name_above_it():
    assert telling("Tone holes, F pad: look: twice.", where="tone holes, F pad") == "look: twice."
    assert telling("A: b. C: d.", where="a together with c") == "A: b. C: d."


def test_what_is_remembered_is_what_would_be_worked_out(school, tech):
    horn = make_ready_instrument(school=school, kind_code="clarinet_bb")
    kind, trade = horn.kind, catalog()
    for notes in (["E3", "F3"], ["C6"]):
        afresh = diagnose(
            kind=kind, chart=chart_of(kind), options={}, failed=notes, faults=trade.faults, roles=trade.roles
        )
        assert diagnosis_of(failed(horn, tech, *notes), horn) == afresh
