"""Who has what, and who may read whose name."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.access import has_perm_at_school
from loans.selectors.lending import loans_of, open_loan_of, schools_with_names
from loans.services import return_loan
from tests.factories import NOW
from tests.loans.makers import make_loan, make_return_walk


@pytest.mark.parametrize(
    ("role", "names", "contacts"), [("director", True, True), ("auditor", True, False), ("administrator", False, False)]
)
def test_who_reads_names_and_who_reads_contacts(request, school, role, names, contacts):
    user = request.getfixturevalue(role)
    assert (school.pk in schools_with_names(user)) is names
    assert has_perm_at_school(user, "loans.view_student", school.pk) is contacts


def test_the_open_loan_is_found_and_a_closed_one_is_history(school, director):
    loan = make_loan(school=school, actor=director)
    assert open_loan_of(loan.instrument) == loan
    later = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=later), accessories_back={}, actor=director, at=later)
    assert open_loan_of(loan.instrument) is None
    assert list(loans_of(loan.student)) == [loan]
