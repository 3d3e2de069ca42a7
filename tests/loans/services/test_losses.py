"""Reported, searched for, found or given up; each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from inventory.models import Instrument
from inventory.services.state import move_instrument
from loans.exceptions import LossRefusedError
from loans.models import Loan, Loss
from loans.services import return_loan
from loans.services.losses import change_loss, end_loss, report_loss
from tests.factories import NOW, TODAY
from tests.loans import makers
from tests.loans.makers import all_back, make_loan, make_loss, make_return_walk

LATER = NOW + timedelta(days=20)


def refused(act, words, **arguments):
    assert words in makers.refused(act, LossRefusedError, **arguments)


def whereabouts(loan: Loan) -> str:
    return Instrument.objects.get(pk=loan.instrument_id).whereabouts


def taken_back(loan: Loan, *, at=LATER) -> None:
    return_loan(
        loan=loan, taken_back=make_return_walk(loan, at=at), accessories_back=all_back(loan), actor=loan.actor, at=at
    )


def test_reported_it_is_not_found_and_the_search_has_its_days(db):
    loss = make_loss(sort="stolen")
    assert whereabouts(loss.loan) == "not_found"
    assert loss.search_until == TODAY + timedelta(days=14)
    assert loss.loan.is_open


def test_only_what_is_out_is_reported_once_and_on_a_day_it_was_out(db):
    loan = make_loan()
    common = {"sort": "lost", "actor": loan.actor, "at": LATER}
    report = partial(refused, report_loss, loan=loan, **common)
    report("before it was lent", noticed_on=TODAY - timedelta(days=1))
    make_loss(loan)
    report("already open for it", noticed_on=TODAY)
    back = make_loan()
    taken_back(back, at=NOW + timedelta(days=1))
    refused(report_loss, "This loan is over", loan=back, noticed_on=TODAY, **common)


def test_steps_have_days_between_the_loss_and_today(db):
    loss = make_loss()
    act = {"loss": loss, "typed": {"insurer": " District  pool "}, "actor": loss.actor, "at": LATER}
    changed = change_loss(steps={"search": TODAY}, **act)
    assert (changed.steps, changed.insurer) == ({"search": TODAY.isoformat()}, "District pool")
    refused(change_loss, "not a step of this case", steps={"police": TODAY}, **act)
    refused(change_loss, "between the day", steps={"family": TODAY - timedelta(days=1)}, **act)


def test_the_student_has_it_again(db):
    loss = make_loss()
    end_loss(loss=loss, outcome="student", actor=loss.actor, at=LATER)
    assert whereabouts(loss.loan) == "with_student"
    refused(end_loss, "ended already", loss=loss, outcome="given_up", actor=loss.actor, at=LATER)


def test_it_is_here_once_it_was_taken_back(db):
    loss = make_loss()
    end = {"loss": loss, "outcome": "found", "actor": loss.actor}
    refused(end_loss, "Take it back first", at=LATER, **end)
    taken_back(loss.loan)
    assert end_loss(at=LATER, found_on=TODAY + timedelta(days=9), **end).is_over


def test_given_up_the_loan_ends_without_the_instrument_which_may_still_be_found(db):
    loss = make_loss()
    end_loss(loss=loss, outcome="given_up", actor=loss.actor, at=LATER)
    loan = Loan.objects.get()
    assert (loan.is_open, loan.is_lost, loan.taken_back, whereabouts(loan)) == (False, True, None, "not_found")
    found = {"loss": loss, "outcome": "found", "actor": loss.actor, "at": LATER}
    refused(end_loss, "in storage again", **found)
    move_instrument(instrument=loan.instrument, expected="not_found", to="in_store", actor=loss.actor, at=LATER)
    assert end_loss(**found).found_on == (TODAY + timedelta(days=20))


@pytest.mark.parametrize("days", [-1, 21])
def test_it_was_found_between_the_loss_and_today(db, days):
    loss = make_loss()
    day = TODAY + timedelta(days=days)
    refused(end_loss, "It was found between", loss=loss, outcome="student", found_on=day, actor=loss.actor, at=LATER)
    assert not Loss.objects.get().outcome
