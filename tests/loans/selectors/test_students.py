"""Who can borrow."""

from __future__ import annotations

from loans.selectors.students import students_of
from loans.services import note_student_left
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan


def test_the_list_to_choose_from_leaves_out_who_left_and_counts_what_each_has(school, director):
    has = make_student(school=school, name="A")
    make_loan(school=school, student=has)
    gone = make_student(school=school, name="B")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    fresh = make_student(school=school, name="C")
    assert [(row, row.out) for row in students_of(school)] == [(has, 1), (fresh, 0)]
