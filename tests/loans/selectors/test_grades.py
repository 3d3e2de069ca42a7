"""Whose grades go up, as the page shows them."""

from __future__ import annotations

import pytest

from loans.models import Student
from loans.selectors.grades import grade_lines, roll_of
from tests.factories import TODAY, make_school, make_student
from tests.loans.makers import make_grade_roll


@pytest.mark.django_db
def test_grades_in_order_and_the_highest_leaves():
    school = make_school()
    for grade in ("8", "10", "", "9"):
        make_student(school=school, grade=grade)
    make_student(school=school, grade="11", left_on=TODAY)
    make_student(school=school, grade="11", off_roster_on=TODAY)
    make_student(school=school, who=Student.Who.STAFF, grade="", guardian_name="")
    found = [(line.grade, len(line.students), line.goes_to, line.leaves) for line in grade_lines(school)]
    assert found == [("8", 1, "9", False), ("9", 1, "10", False), ("10", 1, "11", True), ("", 1, "", False)]


@pytest.mark.django_db
def test_the_roll_of_a_year():
    roll = make_grade_roll()
    assert roll_of(roll.school, year=roll.year) == roll
    assert roll_of(roll.school, year=roll.year + 1) is None
