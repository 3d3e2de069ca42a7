from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import schools_of
from loans.forms import LoanFilterForm, StudentFilterForm
from loans.models import Loan, Student
from loans.services import note_student_left, return_loan
from tests.factories import NOW, TODAY, make_ready_instrument, make_student
from tests.loans.makers import make_loan, make_return_walk


@pytest.fixture
def three(school, director):
    """An open, a late and a returned loan."""
    open_one = make_loan(instrument=make_ready_instrument(school=school, kind_code="tuba"), actor=director)
    late = make_loan(school=school, actor=director, due_on=TODAY, student=make_student(school=school, name="Late Lou"))
    back = make_loan(school=school, actor=director)
    at = NOW + timedelta(hours=2)
    return_loan(loan=back, taken_back=make_return_walk(back, at=at), accessories_back={}, actor=director, at=at)
    return open_one, late, back


def narrowed(user, named=frozenset(), **typed):
    form = LoanFilterForm(typed, schools=schools_of(user))
    rows = form.narrow(Loan.objects.visible_to(user), today=TODAY + timedelta(days=1), named_schools=named)
    return set(rows)


def test_states_split_the_loans(director, three):
    open_one, late, back = three
    assert narrowed(director) == {open_one, late}
    assert narrowed(director, state="overdue") == {late}
    assert narrowed(director, state="returned") == {back}
    assert narrowed(director, state="all") == {open_one, late, back}


def test_a_kind_and_a_number_narrow(director, three):
    open_one, late, _ = three
    assert narrowed(director, kind="tuba") == {open_one}
    assert narrowed(director, q=late.instrument.asset_number.lower()) == {late}


def test_names_are_searched_only_where_they_may_be_read(director, school, three):
    assert narrowed(director, q="lou", named=frozenset({school.pk})) == {three[1]}
    assert narrowed(director, q="lou") == set()


def test_an_unknown_value_counts_as_not_given(director, three):
    assert narrowed(director, kind="kazoo", state="who knows") == {three[0], three[1]}


def test_students_at_school_and_those_who_left(school, director):
    here, gone = make_student(school=school, name="Ada"), make_student(school=school, name="Bo")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    rows = Student.objects.visible_to(director)
    assert list(StudentFilterForm({}).narrow(rows)) == [here]
    assert list(StudentFilterForm({"state": "left"}).narrow(rows)) == [gone]
    assert list(StudentFilterForm({"state": "all", "q": "b"}).narrow(rows)) == [gone]
