"""Who leaves is noted; who has an instrument out is flagged and stays."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import School
from loans.models import Student
from loans.services import let_students_leave, note_student_left, return_loan
from loans.services.leaving import Gone
from tests.factories import NOW, TODAY, make_director, make_school, make_student
from tests.loans.makers import all_back, make_loan, make_return_walk
from tests.opening import differences

LATER = NOW + timedelta(days=1)


def leave(school: School, *students: Student, left_on=TODAY) -> Gone:
    keys = [one.pk for one in students]
    return let_students_leave(students=keys, left_on=left_on, actor=make_director(school), at=LATER)


@pytest.mark.django_db
def test_many_leave_at_once_and_who_has_something_out_when_it_is_back():
    school = make_school()
    gone, out = make_student(school=school), make_student(school=school)
    loan = make_loan(student=out, school=school)
    assert leave(school, gone, out) == Gone(left=1, flagged=1)
    gone.refresh_from_db(), out.refresh_from_db()
    assert (gone.left_on, gone.off_roster_on) == (TODAY, None)
    assert (out.left_on, out.off_roster_on) == (None, TODAY)
    before = Event.objects.count()
    assert leave(school, gone, out) == Gone(left=0, flagged=0)
    assert Event.objects.count() == before
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=LATER), accessories_back=all_back(loan),
                actor=loan.actor, at=LATER)  # fmt: skip
    assert leave(school, out) == Gone(left=1, flagged=0)
    assert differences()[1] == []


@pytest.mark.django_db
def test_a_day_to_come_is_refused():
    student = make_student()
    with pytest.raises(RefusedError, match="in the future"):
        leave(student.school, student, left_on=TODAY + timedelta(days=30))
    student.refresh_from_db()
    assert student.left_on is None


@pytest.mark.django_db
def test_who_comes_back_is_current_again():
    student = make_student()
    leave(student.school, student)
    note_student_left(student=student, left_on=None, actor=None, at=LATER)
    assert Student.objects.current().get() == student
