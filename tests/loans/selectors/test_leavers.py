"""Who is to be forgotten, and what keeps one."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.catalog.load import catalog
from loans.models import Student
from loans.selectors import leavers as module
from loans.selectors.leavers import YEARS, leavers, register_keeps, years_leavers_are_kept
from loans.services.ledger import enter_in_ledger
from tests.factories import NOW, TODAY, make_student, new_nonce
from tests.loans.makers import make_hold, make_loan

pytestmark = pytest.mark.django_db


def gone(school, *, days, **columns):
    student = make_student(school=school, **columns)
    Student.objects.filter(pk=student.pk).update(left_on=TODAY - timedelta(days=days))
    return student


def found(today=TODAY):
    return {leaver.student.pk: leaver.kept_by for leaver in leavers(today=today)}


def test_the_districts_period_decides(school):
    years = years_leavers_are_kept()
    assert years == int(catalog().settings[YEARS]) >= 1
    long, lately = gone(school, days=366 * years), gone(school, days=365 * years - 10)
    make_student(school=school)
    assert found() == {long.pk: ()}
    assert found(TODAY + timedelta(days=30)) == {long.pk: (), lately.pk: ()}


def test_what_is_not_settled_keeps_the_name(school, director):
    with_loan, owing, held, free = (gone(school, days=4000) for _ in range(4))
    Student.objects.filter(pk=with_loan.pk).update(left_on=None)
    make_loan(school=school, student=with_loan, actor=director)
    Student.objects.filter(pk=with_loan.pk).update(left_on=TODAY - timedelta(days=4000))
    enter_in_ledger(student=owing, sort="fee", amount=Decimal(40), on=TODAY, actor=director, at=NOW, nonce=new_nonce())
    hold = make_hold(student=held)
    assert found() == {
        with_loan.pk: ("an instrument is out",),
        owing.pk: ("the account is not settled",),
        held.pk: (f"a legal hold, until {hold.ends_on}",),
        free.pk: (),
    }
    assert found(hold.ends_on + timedelta(days=1))[held.pk] == ()


def test_another_part_of_the_program_may_say_not_yet(school, monkeypatch):
    monkeypatch.setattr(module, "_keeps", list(module._keeps))
    one, other = gone(school, days=4000), gone(school, days=4000)
    register_keeps(keeps := lambda *_asked: {one.pk: "a claim is open"})
    register_keeps(keeps)
    assert found() == {one.pk: ("a claim is open",), other.pk: ()}


def test_texts_that_may_name_one_are_counted_before(school, director):
    student = gone(school, days=4000, name="Robin Reed")
    loan = make_loan(school=school, student=make_student(school=school, name="Ada"), actor=director)
    type(loan.instrument).objects.filter(pk=loan.instrument_id).update(notes="Robin dropped it.")
    type(loan).objects.filter(pk=loan.pk).update(student=student, returned_at=loan.lent_at, returned_to=director)
    assert [leaver.unsure for leaver in leavers(today=TODAY)] == [1]


def test_reasons_are_asked_for_many_at_once(school):
    for _ in range(2):
        make_hold(student=gone(school, days=4000))

    def cost():
        with CaptureQueriesContext(connection) as caught:
            list(leavers(today=TODAY))
        return len(caught)

    few = cost()
    for _ in range(5):
        make_hold(student=gone(school, days=4000))
    assert cost() == few
