"""Sums are kept until the day, the school's log or its instruments say otherwise."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import Instrument, School
from inventory.selectors import school_sums
from inventory.selectors.school_sums import SchoolSums, UnfinishedError, totals_within
from inventory.services.registering import change_instrument
from tests.factories import NOW, TODAY, make_instrument, make_school


@pytest.fixture
def sums():
    """A count of instruments that says which schools it was read for."""
    asked: list[list[int]] = []

    def read(schools, today, variant):
        asked.append(sorted(schools))
        return {pk: Instrument.objects.filter(school=pk).count() for pk in schools}

    kept = SchoolSums(read)
    kept.asked = asked
    return kept


def test_a_school_is_read_once_until_something_happens_there(school, sums):
    other = make_school()
    for place in (school, other):
        make_instrument(school=place)
    every = School.objects.all()
    assert sums.of(every, today=TODAY) == sums.of(every, today=TODAY) == {school.pk: 1, other.pk: 1}
    make_instrument(school=other)
    assert sums.of(every, today=TODAY) == {school.pk: 1, other.pk: 2}
    assert sums.asked == [sorted([school.pk, other.pk]), [other.pk]]


def test_another_day_and_another_question_are_read_for(school, sums):
    make_instrument(school=school)
    every = School.objects.all()
    for day, variant in ((0, "a"), (0, "a"), (0, "b"), (1, "a"), (1, "a")):
        sums.of(every, today=TODAY + timedelta(days=day), variant=variant)
    assert len(sums.asked) == 3


def test_the_school_that_an_instrument_left_is_read_again(school, director, sums):
    instrument = make_instrument(school=school)
    make_instrument(school=school)
    other = make_school()
    every = School.objects.all()
    assert sums.of(every, today=TODAY)[school.pk] == 2
    change_instrument(instrument=instrument, school=other, room=None, actor=director, at=NOW)
    assert sums.of(every, today=TODAY) == {school.pk: 1, other.pk: 1}


def test_rows_that_no_service_wrote_are_never_kept(db, sums):
    place = make_school()
    every = School.objects.filter(pk=place.pk)
    sums.of(every, today=TODAY)
    sums.of(every, today=TODAY)
    assert len(sums.asked) == 2


def test_where_time_is_up_it_says_how_far_it_is_and_goes_on_from_there(school, sums, monkeypatch):
    """Common practice, no source."""
    monkeypatch.setattr(school_sums, "AT_ONCE", 1)
    for place in (school, make_school(), make_school()):
        make_instrument(school=place)
        make_instrument(school=place)
    every = School.objects.all()
    whole = {place.pk: 2 for place in every}
    for done in (1, 2):
        with pytest.raises(UnfinishedError) as so_far, totals_within(-1):
            sums.of(every, today=TODAY)
        assert (so_far.value.done, so_far.value.total) == (done, 3)
    with totals_within(-1):
        assert sums.of(every, today=TODAY) == whole
    assert sums.asked == [[pk] for pk in sorted(whole)]
    sums.forget()
    assert sums.of(every, today=TODAY) == whole
    assert sums.asked[3:] == [sorted(whole)]


def test_small_schools_are_read_together_where_time_is_short(school, sums):
    for place in (school, make_school()):
        make_instrument(school=place)
    with totals_within(60):
        assert len(sums.of(School.objects.all(), today=TODAY)) == 2
    assert len(sums.asked) == 1
