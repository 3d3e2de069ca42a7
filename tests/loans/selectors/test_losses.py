"""What is charged and what is next; an open case keeps a student's name."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from loans.models import Student
from loans.rules.losses import Then
from loans.selectors.leavers import leavers
from loans.selectors.losses import charge_for_loss_of, charged_loans, days_done, next_step
from loans.services import return_loan
from loans.services.ledger import enter_in_ledger, reverse_entry
from loans.services.losses import change_loss
from tests.factories import NOW, TODAY, new_nonce
from tests.loans.makers import all_back, make_loss, make_return_walk

LATER = NOW + timedelta(days=20)


def test_a_reversed_charge_is_none(db):
    loss = make_loss()
    act = {"actor": loss.actor, "at": LATER}
    entry = enter_in_ledger(
        student=loss.loan.student, loan=loss.loan, sort="loss", amount=Decimal(90), on=TODAY, nonce=new_nonce(), **act
    )
    assert charge_for_loss_of(loss.loan) == entry
    assert charged_loans([loss.loan_id]) == {loss.loan_id}
    reverse_entry(entry=entry, because="A slip", nonce=new_nonce(), **act)
    assert charge_for_loss_of(loss.loan) is None


def test_the_days_of_the_row_decide_what_is_next(db):
    loss = make_loss()
    steps = dict.fromkeys(("search", "family", "office", "schools"), TODAY)
    done = change_loss(loss=loss, steps=steps, typed={}, actor=loss.actor, at=LATER)
    assert days_done(done) == steps
    assert next_step(done, is_charged=False, today=TODAY).then is Then.SEARCH


def test_an_open_case_keeps_the_name_after_the_instrument_is_back(db):
    loss = make_loss()
    loan = loss.loan
    walk = make_return_walk(loan, at=LATER)
    return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), actor=loan.actor, at=LATER)
    Student.objects.update(left_on=TODAY - timedelta(days=4000))
    assert [leaver.kept_by for leaver in leavers(today=TODAY)] == [("a case of loss is open",)]
