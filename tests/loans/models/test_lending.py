"""Constraints that hold whatever the code above them does."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from loans.models import Loan
from tests.factories import NOW, TODAY, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import make_loan


def test_an_instrument_has_one_open_loan(school, director):
    loan = make_loan(school=school, actor=director)
    with pytest.raises(IntegrityError), transaction.atomic():
        Loan.objects.create(
            instrument=loan.instrument,
            school=school,
            student=loan.student,
            lent_at=NOW,
            lent_on=TODAY,
            due_on=TODAY,
            actor=director,
            nonce=new_nonce(),
        )


def test_a_loan_is_never_due_before_it_begins(school, director):
    instrument = make_ready_instrument(school=school)
    with pytest.raises(IntegrityError), transaction.atomic():
        Loan.objects.create(
            instrument=instrument,
            school=school,
            student=make_student(school=school),
            lent_at=NOW,
            lent_on=TODAY,
            due_on=TODAY - timedelta(days=1),
            actor=director,
            nonce=new_nonce(),
        )


def test_loans_of_another_school_are_not_visible(school, director, stranger, tech):
    loan = make_loan(school=school, actor=director)
    assert list(Loan.objects.visible_to(director)) == [loan]
    for other in (stranger, tech):
        assert not Loan.objects.visible_to(other).exists()


def test_a_day_is_late_only_when_it_is_over(school):
    loan = make_loan(school=school, due_on=TODAY + timedelta(days=5))
    assert list(Loan.objects.overdue(today=TODAY + timedelta(days=5))) == []
    assert list(Loan.objects.overdue(today=TODAY + timedelta(days=6))) == [loan]


def test_what_is_late_at_another_school_is_nobodys_here(school, director, stranger):
    make_loan(school=school, due_on=TODAY)
    late = Loan.objects.overdue(today=TODAY + timedelta(days=1))
    assert (late.visible_to(director).count(), late.visible_to(stranger).count()) == (1, 0)


def test_a_loan_that_was_undone_is_neither_open_nor_late_and_the_instrument_can_go_out_again(school, director):
    loan = make_loan(school=school, actor=director, due_on=TODAY)
    Loan.objects.update(undone_at=NOW, undone_by=director)
    loan.refresh_from_db()
    assert not loan.is_open
    assert not Loan.objects.open().exists()
    assert not Loan.objects.overdue(today=TODAY + timedelta(days=1)).exists()
    assert not Loan.objects.not_undone().exists()
    again = Loan.objects.create(
        instrument=loan.instrument, school=school, student=loan.student, lent_at=NOW, lent_on=TODAY, due_on=TODAY,
        actor=director, nonce=new_nonce(),
    )  # fmt: skip
    assert list(Loan.objects.open()) == [again]
    assert again.is_open
