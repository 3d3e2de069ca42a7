from __future__ import annotations

from inventory.models import Instrument
from inventory.selectors.judging import judgement_of, level_reports, standing_reports
from tests.factories import make_inspection, make_instrument


def test_pages_read_the_judgement_that_is_stored(school, tech):
    instrument = make_instrument(school=school)
    assert judgement_of(instrument).verdict == "not_inspected"
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "1", "up")], actor=tech)
    fresh = Instrument.objects.get(pk=instrument.pk)
    facts = fresh.findings.standing().facts()
    for level in ("first_year", "concert"):
        assert judgement_of(fresh, level=level) == judgement_of(fresh, level=level, findings=facts, inspected=True)
    assert judgement_of(fresh).verdict == fresh.verdict


def test_the_reports_of_many_horns_cost_one_query_and_equal_those_of_each(school, django_assert_num_queries):
    horns = [make_instrument(school=school, kind_code=kind) for kind in ("trumpet", "flute", "snare_kit")]
    walk = make_inspection(instrument=horns[0], findings=[("third_valve_slide", "slide_seized", "severe")])
    with django_assert_num_queries(1):
        reports = standing_reports(horns)
    assert set(reports) == {horn.pk for horn in horns}
    assert reports[horns[0].pk] == level_reports(horns[0], findings=walk.findings.all().facts())
    assert reports[horns[0].pk]["first_year"].off
    assert not reports[horns[1].pk]["first_year"].off
