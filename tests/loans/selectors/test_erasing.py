"""Where a student is named."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from loans.selectors.erasing import named_in, places_to_redact, redaction_of
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import make_loan


@pytest.fixture
def student(school):
    return make_student(school=school, name="Robin Reed", guardian_name="Gale Guardian")


@pytest.fixture
def instrument(school, student, director):
    loan = make_loan(school=school, student=student, actor=director)
    Instrument.objects.filter(pk=loan.instrument_id).update(notes="Robin Reed dropped it. The reed is chipped.")
    return loan.instrument


def texts(found):
    return {typed.text for typed in found}


def test_a_whole_name_is_sure_wherever_it_was_typed_in_the_school(student, instrument, school):
    other = make_ready_instrument(school=school, notes="Seen by Gale Guardian")
    make_ready_instrument(school=school, notes="A reed is missing")
    found = named_in(student, redaction_of(student))
    assert texts(found.sure) == {"Robin Reed dropped it. The reed is chipped.", "Seen by Gale Guardian"}
    assert other.pk not in {typed.thread for typed in found.unsure}


def test_a_word_that_may_be_the_name_counts_only_where_the_student_had_the_instrument(student, instrument):
    page = places_to_redact(student, nicknames=(), checked={})
    assert page["sure_count"] == 1
    assert all(place["where"].startswith(instrument.asset_number) for place in page["unsure"])


def test_a_box_that_was_unchecked_stays_unchecked(student, instrument):
    Instrument.objects.filter(pk=instrument.pk).update(notes="Robin says it sticks.")
    [place] = places_to_redact(student, nicknames=(), checked={})["unsure"]
    assert place["is_checked"]
    [again] = places_to_redact(student, nicknames=(), checked={place["key"]: False})["unsure"]
    assert not again["is_checked"]
