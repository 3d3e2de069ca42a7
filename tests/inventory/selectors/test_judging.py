from __future__ import annotations

from inventory.models import Instrument
from inventory.selectors.judging import standing_judgement
from inventory.services.state import judgement_of
from tests.factories import make_inspection, make_instrument


def test_pages_read_the_judgement_that_is_stored(school, tech):
    instrument = make_instrument(school=school)
    assert standing_judgement(instrument).verdict == "not_inspected"
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "1", "up")], actor=tech)
    fresh = Instrument.objects.get(pk=instrument.pk)
    for level in ("first_year", "concert"):
        assert standing_judgement(fresh, level=level) == judgement_of(fresh, level=level)
    assert standing_judgement(fresh).verdict == fresh.verdict
