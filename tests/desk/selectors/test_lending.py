"""Reads of the lending desk."""

from __future__ import annotations

from datetime import timedelta

from desk.selectors.lending import fits, others_ready, walk_since
from inventory.models import Instrument, Purpose
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_limited_instrument, make_ready_instrument
from tests.loans.makers import make_loan


def test_a_walk_from_before_the_loan_is_not_the_walk_at_return(school, director):
    instrument = make_ready_instrument(school=school)
    make_inspection(instrument=instrument, purpose=Purpose.RETURN, actor=director)
    loan = make_loan(instrument=Instrument.objects.get(pk=instrument.pk), actor=director, at=NOW + timedelta(hours=1))
    assert walk_since(loan) is None


def test_a_ready_instrument_fits_everybody(school):
    assert fits(make_ready_instrument(school=school)) == ()


def test_limits_are_told_for_each_level_of_player(school):
    """A third valve that cannot move spares nobody who needs it; the notes are checked with the playing rules."""
    limited = make_limited_instrument(school=school)
    assert limited.readiness == "may_go_out_with_limits"
    told = fits(limited)
    assert [fit["level"] for fit in told] == ["first_year", "second_year", "concert", "marching"]
    assert any(fit["sentences"] for fit in told)


def test_others_ready_are_of_its_kind_and_school_and_in_store(school, director):
    instrument = make_instrument(school=school)
    ready = make_ready_instrument(school=school)
    make_ready_instrument()
    make_ready_instrument(school=school, kind_code="flute")
    make_loan(school=school, actor=director)
    assert others_ready(instrument, today=TODAY) == [ready]
