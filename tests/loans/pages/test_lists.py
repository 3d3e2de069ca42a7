"""What a file says of whom."""

from __future__ import annotations

import pytest
from django.db.models import Value

from loans.models import Loan, Student
from loans.pages.lists import LOAN_HEADER, STUDENT_HEADER, loan_rows, student_rows
from tests.factories import make_student
from tests.loans.makers import make_agreement, make_loan

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("is_private", "may_see", "may_lend", "shown"),
    [
        (False, True, False, "Reed, Robin"),
        (False, False, False, "a student"),
        (True, True, False, "a student"),
        (True, True, True, "Reed, Robin"),
    ],
)
def test_who_opted_out_is_named_to_those_alone_who_lend(school, is_private, may_see, may_lend, shown):
    student = make_student(school=school, name="Robin Reed", grade="7", is_private=is_private)
    make_agreement(make_loan(school=school, student=student))
    here = frozenset({school.pk})
    rows = Loan.objects.for_table().select_related("agreement")
    (row,) = loan_rows(rows, named=here if may_see else frozenset(), lending=here if may_lend else frozenset())
    said = dict(zip(map(str, LOAN_HEADER), row, strict=True))
    assert (said["Student"], said["Grade"]) == (shown, "7" if shown == "Reed, Robin" else "")
    assert (said["Agreement"], said["Returned"]) == ("signed", None)


def test_a_student_is_a_row_without_any_contact(school):
    make_student(school=school, name="Robin Reed", guardian_name="Gale Reed", guardian_contact="555-0177")
    (row,) = student_rows(Student.objects.annotate(out=Value(2)))
    said = dict(zip(map(str, STUDENT_HEADER), row, strict=True))
    assert (said["Student"], said["School"], said["Out now"]) == ("Reed, Robin", school.name, 2)
    assert "Gale" not in str(row)
    assert "555" not in str(row)
