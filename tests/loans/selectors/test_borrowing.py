"""Who may borrow, who has what, and who reads names."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.access import has_perm_at_school
from loans.selectors import loans_of, open_loan_of, schools_with_names, students_of
from loans.services import note_student_left, return_loan
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan, make_return_walk


@pytest.mark.parametrize(
    ("role", "names", "contacts"), [("director", True, True), ("auditor", True, False), ("administrator", False, False)]
)
def test_who_reads_names_and_who_reads_contacts(request, school, role, names, contacts):
    user = request.getfixturevalue(role)
    assert (school.pk in schools_with_names(user)) is names
    assert has_perm_at_school(user, "loans.view_student", school.pk) is contacts


def test_the_list_to_choose_from_leaves_out_who_left_and_counts_what_each_has(school, director):
    has = make_student(school=school, name="A")
    make_loan(school=school, student=has)
    gone = make_student(school=school, name="B")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    fresh = make_student(school=school, name="C")
    assert [(row, row.out) for row in students_of(school)] == [(has, 1), (fresh, 0)]


def test_the_open_loan_is_found_and_a_closed_one_is_history(school, director):
    loan = make_loan(school=school, actor=director)
    assert open_loan_of(loan.instrument) == loan
    later = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=later), accessories_back={}, actor=director, at=later)
    assert open_loan_of(loan.instrument) is None
    assert list(loans_of(loan.student)) == [loan]
