"""Who is seen by whom, and who waits."""

from __future__ import annotations

from loans.models import Student
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
