"""Who is seen by whom, and who waits."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import Guardian, Student
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan


def test_students_of_another_school_are_not_visible(school, director, stranger, tech):
    student = make_student(school=school)
    assert list(Student.objects.visible_to(director)) == [student]
    for other in (stranger, tech):
        assert not Student.objects.visible_to(other).exists()


def test_who_waits_is_here_wants_a_kind_and_has_none(school, director):
    waits = make_student(school=school, wants_kind="trumpet")
    make_student(school=school)
    make_student(school=school, wants_kind="trumpet", left_on=TODAY)
    has = make_student(school=school, wants_kind="tuba")
    loan = make_loan(school=school, student=has, actor=director)
    assert list(Student.objects.waiting()) == [waits]
    type(loan).objects.update(returned_at=NOW)
    assert set(Student.objects.waiting()) == {waits, has}


def test_guardians_are_seen_as_their_student_is_and_a_place_given_up_is_nobody(school, director, stranger, tech):
    student = make_student(school=school, guardian_name="Gale Reed")
    empty = Guardian.places.create(student=student, place=2)
    assert [row.name for row in Guardian.objects.visible_to(director)] == ["Gale Reed"]
    assert list(Guardian.places.filter(pk=empty.pk)) == [empty]
    for other in (stranger, tech):
        assert not Guardian.objects.visible_to(other).exists()
    assert Student.objects.with_guardian().get().guardian_name == "Gale Reed"


@pytest.mark.parametrize(
    "columns", [{"number": "7"}, {"sourced_id": "s"}, {"who": "staff", "grade": "6"}], ids=["number", "roster", "grade"]
)
def test_the_database_refuses(school, columns):
    make_student(school=school, number="7", sourced_id="s")
    make_student(school=school)  # many have no number
    make_student(number="7", sourced_id="s")  # another school's
    with pytest.raises(IntegrityError), transaction.atomic():
        Student.objects.create(school=school, name="Other", **{"grade": "6"} | columns)
