from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import School, schools_of
from loans.forms import LoanFilterForm, StudentFilterForm
from loans.models import Loan, Student
from loans.selectors.seats import periods_of
from loans.services import note_student_left, return_loan
from loans.services.signing_links import open_link
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_agreement, make_loan, make_period, make_return_walk, make_seat, make_signing_link


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
    form = LoanFilterForm(typed, schools=schools_of(user), periods=periods_of(user))
    now = NOW + timedelta(days=1)
    rows = form.narrow(Loan.objects.visible_to(user), today=now.date(), now=now, named_schools=named)
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


def test_a_class_and_where_the_link_stands_narrow(director, school):
    period = make_period(school=school)
    seated = make_seat(place=period).student
    unlinked = make_loan(school=school, student=seated, actor=director)
    sent, _ = make_signing_link(make_loan(school=school, actor=director), at=NOW)
    opened, _ = make_signing_link(make_loan(school=school, actor=director), at=NOW)
    open_link(link=opened, actor=None, at=NOW)
    make_agreement(make_loan(school=school, actor=director))
    assert narrowed(director, period=period.pk) == {unlinked}
    assert narrowed(director, link="none") == {unlinked}
    assert narrowed(director, link="sent") == {sent.loan}
    assert narrowed(director, link="opened") == {opened.loan}
    assert narrowed(director, link="expired") == set()
    make_period(school=make_school())
    assert list(LoanFilterForm({}, schools=School.objects.all(), periods=periods_of(director)).fields) == [
        "q", "state", "kind", "who", "school", "link"
    ]  # fmt: skip


def test_an_unknown_value_counts_as_not_given(director, three):
    assert narrowed(director, kind="kazoo", state="who knows") == {three[0], three[1]}


def test_students_at_school_and_those_who_left(school, director):
    here, gone = make_student(school=school, name="Ada"), make_student(school=school, name="Bo")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    rows = Student.objects.visible_to(director)
    assert list(StudentFilterForm({}).narrow(rows)) == [here]
    assert list(StudentFilterForm({"state": "left"}).narrow(rows)) == [gone]
    assert list(StudentFilterForm({"state": "all", "q": "b"}).narrow(rows)) == [gone]
