"""What the form of a mistake asks for."""

from __future__ import annotations

import pytest

from loans.forms.mistakes import UndoLoanForm
from tests.factories import make_student
from tests.loans.makers import make_loan


@pytest.mark.django_db
def test_only_other_students_of_the_school_are_offered():
    loan = make_loan()
    right, elsewhere = make_student(school=loan.school), make_student()
    offered = set(UndoLoanForm(loan=loan).fields["student"].queryset)
    assert right in offered
    assert not offered & {elsewhere, loan.student}
    assert UndoLoanForm({"what": "stayed", "student": elsewhere.pk}, loan=loan).is_valid(), "it is not asked for"
    assert not UndoLoanForm({"what": "other"}, loan=loan).is_valid()
