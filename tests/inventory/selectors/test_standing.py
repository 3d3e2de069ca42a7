from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Instrument
from inventory.rules.facts import Owed
from inventory.selectors.standing import standing_for, standing_of, standings_of
from inventory.services.care import record_play_test
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument


def test_pages_read_the_judgement_that_is_stored(school, tech):
    instrument = make_instrument(school=school)
    assert standing_of(instrument).judgement.verdict == "not_inspected"
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "1", "up")], actor=tech)
    fresh = Instrument.objects.get(pk=instrument.pk)
    facts = fresh.findings.standing().facts()
    for level in ("first_year", "concert"):
        assert standing_of(fresh).at(level) == standing_of(fresh, findings=facts, is_inspected=True).at(level)
    assert standing_of(fresh).judgement.verdict == fresh.verdict


def test_many_cost_one_query_and_equal_each(school, django_assert_num_queries):
    instruments = [make_instrument(school=school, kind_code=kind) for kind in ("trumpet", "flute", "snare_kit")]
    walk = make_inspection(instrument=instruments[0], findings=[("third_valve_slide", "slide_seized", "severe")])
    with django_assert_num_queries(1):
        standings = standings_of(instruments)
    assert set(standings) == {instrument.pk for instrument in instruments}
    assert standings[instruments[0].pk] == standing_of(instruments[0], findings=walk.findings.all().facts())
    assert standings[instruments[0].pk].reports["first_year"].off
    assert not standings[instruments[1].pk].reports["first_year"].off


def test_findings_that_are_known_cost_no_query(school, django_assert_num_queries):
    instrument = make_instrument(school=school)
    with django_assert_num_queries(0):
        assert standing_of(instrument, findings=()).findings == ()


def test_the_same_facts_give_the_same_object():
    assert standing_for("tuba", {"valves": "3"}) is standing_for("tuba", {"valves": "3"})
    assert standing_for("tuba", {"valves": "3"}, owed=frozenset(Owed)).owed == set(Owed)
    assert standing_for("tuba", {"valves": "3"}) != standing_for("tuba", {"valves": "4"})


def test_an_option_that_is_not_named_counts_as_its_default():
    named, unnamed = standing_for("euphonium", {"clef": "bass"}), standing_for("euphonium", {})
    assert named.chart is unnamed.chart
    assert (unnamed.options["clef"], unnamed.clef) == ("bass", "bass")
    assert standing_for("euphonium", {"clef": "treble"}).clef == "treble"


def test_an_unmeasured_main_slide_stands_where_it_was_last_played(school, tech, django_assert_num_queries):
    """A trumpet of 1473 mm of air, at pitch with 12 mm out: 16 mm are 8 mm more of tube, 9.4 cents (own arithmetic)."""
    stuck = ("main_tuning_slide", "slide_seized", "severe")
    instruments = [make_ready_instrument(school=school) for _ in range(2)]
    for instrument in instruments:
        make_inspection(instrument=instrument, findings=[stuck], actor=tech)
    assert tuned(instruments[0]) == 0.0
    for days, slide_mm in ((0, Decimal(20)), (1, Decimal(16)), (2, None)):
        at = NOW + timedelta(days=days)
        record_play_test(instrument=instruments[0], result="pass", actor=tech, at=at, slide_mm=slide_mm)
    assert tuned(instruments[0]) == pytest.approx(-9.4, abs=0.05)
    with django_assert_num_queries(2):
        assert [
            tuned(instrument, of)
            for instrument, of in zip(instruments, standings_of(instruments).values(), strict=True)
        ][1] == 0.0
    make_inspection(instrument=instruments[0], findings=[(*stuck, "", "pulled 12 mm")], actor=tech)
    assert tuned(instruments[0]) == 0.0


def tuned(instrument, standing=None):
    return (standing or standing_of(instrument)).judgement.report.tuning_range.stands_cents
