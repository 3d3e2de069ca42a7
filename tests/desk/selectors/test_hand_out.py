"""What a station finds, how far a class is, and what is left over."""

from __future__ import annotations

import pytest

from desk.selectors.hand_out import by_class, expected_at, found_at_station, free_instruments
from loans.models import Student
from loans.services import lock_assignment, note_student_left
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_assignment, make_loan, make_period, make_seat

pytestmark = pytest.mark.django_db


def lock(school, director):
    assignment = make_assignment(school=school)
    return lock_assignment(assignment=assignment, seen=assignment.revision, replaces=None, actor=director, at=NOW)


def test_a_card_beats_a_name_and_a_name_that_begins_so_beats_one_that_holds_it(school, director):
    inside = make_student(school=school, name="Avery Marchand")
    begins = make_student(school=school, name="Char Zeller", number="4711")
    card = make_student(school=school, name="Nobody Inparticular", number="cha")
    make_student(school=make_school(), name="Charlie Elsewhere")
    assert found_at_station(director, "CHA", has_student=False).students == [card]
    Student.objects.filter(pk=card.pk).update(number="")
    assert found_at_station(director, "cha", has_student=False).students == [begins, inside]
    assert found_at_station(director, " 4711 ", has_student=False).students == [begins]
    note_student_left(student=begins, left_on=TODAY, actor=director, at=NOW)
    assert found_at_station(director, "4711", has_student=False).count == 0


def test_a_number_without_its_zeros_is_the_instrument_where_no_card_has_it(school, director):
    instrument = make_ready_instrument(school=school, asset_number="TV-0019")
    make_ready_instrument(school=make_school(), asset_number="XX-0019")
    assert found_at_station(director, "tv19", has_student=False).instruments == [instrument]
    student = make_student(school=school, number="19")
    assert found_at_station(director, "19", has_student=False).students == [student]
    assert found_at_station(director, "19", has_student=True).instruments == [instrument]


def test_expected_are_those_of_the_locked_assignment_and_it_says_who_is_served(school, director):
    first, second = make_period(school=school, place=1), make_period(school=school, place=2)
    seats = [make_seat(place=place, kind_code="trumpet") for place in (first, first, second)]
    for _ in range(2):
        make_ready_instrument(school=school)
    spare = make_ready_instrument(school=school, kind_code="flute")
    assert [(one.period, len(one.expected), one.handed) for one in by_class(expected_at(school))] == [
        (first, 2, 0), (second, 1, 0),
    ]  # fmt: skip
    lines = lock(school, director).lines.exclude(instrument=None).order_by("pk")
    assert len(expected_at(school)) == len(lines) == 2, "one gets none"
    make_loan(instrument=lines[0].instrument, student=lines[0].student)
    rows = expected_at(school)
    assert sorted(row.is_served for row in rows) == [False, True]
    assert list(free_instruments(school, rows, today=TODAY)) == [spare]
    note_student_left(student=lines[1].student, left_on=TODAY, actor=director, at=NOW)
    assert [row.student for row in expected_at(school)] == [lines[0].student]
    assert {seat.student for seat in seats} >= {lines[0].student, lines[1].student}
