"""Another term: the old loan ends, the next begins with what went out, and nothing moved."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Instrument
from loans.exceptions import AlreadyReturnedError, StudentRefusedError
from loans.models import Loan
from loans.services import note_student_left, renew_loan, return_loan
from tests.factories import NOW, TODAY, new_nonce
from tests.loans.makers import all_back, make_agreement, make_loan, make_return_walk, refused
from tests.opening import differences

LATER = NOW + timedelta(days=190)


@pytest.fixture
def offer(db):
    loan = make_loan()
    make_agreement(loan)
    due_on = TODAY + timedelta(days=560)
    return {"loan": loan, "due_on": due_on, "actor": loan.actor, "at": LATER, "nonce": new_nonce()}


def test_the_next_term_has_what_went_out_and_is_to_be_signed(offer):
    old = offer["loan"]
    new = renew_loan(**offer)
    old.refresh_from_db()
    assert (old.returned_at, old.taken_back) == (LATER, None)
    assert (new.student, new.instrument, new.hand_out) == (old.student, old.instrument, old.hand_out)
    assert (new.accessories, new.due_on) == (old.accessories, offer["due_on"])
    assert list(Loan.objects.unsigned()) == [new]
    instrument = Instrument.objects.get(pk=new.instrument_id)
    assert (instrument.whereabouts, instrument.is_hygiene_due) == ("with_student", False)
    assert renew_loan(**offer) == new, "the same form"
    assert Loan.objects.count() == 2
    assert differences()[1] == []
    walk = make_return_walk(new, at=LATER + timedelta(days=9))
    at = LATER + timedelta(days=9)
    return_loan(loan=new, taken_back=walk, accessories_back=all_back(new), actor=new.actor, at=at)
    assert differences()[1] == []


def test_what_came_back_is_not_renewed(offer):
    loan = offer["loan"]
    walk = make_return_walk(loan)
    return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), actor=loan.actor, at=walk.finished_at)
    refused(renew_loan, AlreadyReturnedError, **offer)


def test_nor_what_is_lost_or_of_a_student_who_left(offer):
    loan = offer["loan"]
    note_student_left(student=loan.student, left_on=TODAY, actor=loan.actor, at=NOW)
    refused(renew_loan, StudentRefusedError, **offer)
    Instrument.objects.filter(pk=loan.instrument_id).update(whereabouts="not_found")
    refused(renew_loan, InstrumentUnavailableError, **offer)
