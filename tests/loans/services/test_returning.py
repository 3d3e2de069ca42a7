"""Taking back: once, with what came along, and clean before the next player."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest

from core.models import Event
from inventory.models import Instrument, Purpose
from inventory.services.inspecting import start_inspection
from inventory.services.state import move_instrument
from loans.exceptions import AccessoriesError, AlreadyReturnedError, InspectionMissingError, ReturnUndoneError
from loans.models import LedgerEntry
from loans.selectors.ledger import ledger_differences, owed_by
from loans.services import Listed, correct_accessories_back, lend_as_listed, return_loan, undo_return
from loans.services.ledger import enter_in_ledger, reverse_entry
from tests.factories import (
    NOW,
    TODAY,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_student,
    new_nonce,
)
from tests.loans import makers
from tests.loans.makers import make_loan, make_return_walk

LATER = NOW + timedelta(days=100)


@pytest.fixture
def loan(school, director):
    return make_loan(school=school, actor=director)


back = makers.all_back
refused = partial(makers.refused, return_loan)


def test_it_is_back_in_store_and_waits_for_cleaning(loan, director):
    walk = make_return_walk(loan)
    closed = return_loan(loan=loan, taken_back=walk, accessories_back=back(loan), actor=director, at=LATER)
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    assert (closed.returned_at, closed.returned_to, closed.taken_back) == (LATER, director, walk)
    assert instrument.whereabouts == "in_store"
    assert instrument.is_hygiene_due
    assert instrument.readiness == "stays_in"
    assert [reason["code"] for reason in instrument.readiness_reasons] == ["hygiene"]


def test_anybody_of_the_staff_may_take_back_what_another_lent(loan, school):
    other = make_director(school)
    closed = return_loan(
        loan=loan, taken_back=make_return_walk(loan), accessories_back=back(loan), actor=other, at=LATER
    )
    assert (closed.actor, closed.returned_to) == (loan.actor, other)


def test_what_did_not_come_back_is_missing_and_keeps_it_in(loan, director):
    code = next(row.code for row in loan.instrument.accessories.all() if row.is_essential)
    return_loan(
        loan=loan,
        taken_back=make_return_walk(loan),
        accessories_back=back(loan) | {code: 0},
        actor=director,
        at=LATER,
    )
    assert loan.instrument.accessories.get(code=code).present == 0
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    assert "accessories" in {reason["code"] for reason in instrument.readiness_reasons}
    assert Event.objects.get(act="returned").after["accessories_short"] == {code: 1}


def test_what_stayed_in_store_still_counts_after_the_return(school, director):
    instrument = make_ready_instrument(school=school)
    extra = instrument.accessories.filter(is_essential=False).first()
    instrument.accessories.filter(pk=extra.pk).update(present=extra.expected + 2)
    loan = make_loan(instrument=instrument, actor=director)
    return_loan(loan=loan, taken_back=make_return_walk(loan), accessories_back=back(loan), actor=director, at=LATER)
    assert instrument.accessories.get(pk=extra.pk).present == extra.expected + 2


def test_a_second_return_changes_nothing(loan, director):
    walk = make_return_walk(loan)
    return_loan(loan=loan, taken_back=walk, accessories_back=back(loan), actor=director, at=LATER)
    refused(
        AlreadyReturnedError,
        loan=loan,  # a page left open: its loan still looks open
        taken_back=walk,
        accessories_back=back(loan),
        actor=director,
        at=LATER,
    )


def test_an_inspection_from_before_the_loan_is_refused(director, school):
    instrument = make_ready_instrument(school=school)
    early = instrument.inspections.get()
    loan = make_loan(instrument=instrument, actor=director, at=NOW + timedelta(days=1))
    refused(InspectionMissingError, loan=loan, taken_back=early, accessories_back=back(loan), actor=director, at=LATER)


def test_an_unfinished_inspection_is_refused(loan, director):
    draft = start_inspection(instrument=loan.instrument, purpose=Purpose.RETURN, actor=director, at=LATER)
    refused(InspectionMissingError, loan=loan, taken_back=draft, accessories_back=back(loan), actor=director, at=LATER)


def test_another_instruments_inspection_is_refused(loan, director, school):
    other = make_ready_instrument(school=school).inspections.first()
    refused(InspectionMissingError, loan=loan, taken_back=other, accessories_back=back(loan), actor=director, at=LATER)


@pytest.mark.parametrize("counts", [{"spare wheel": 1}, {"mouthpiece": -1}])
def test_counts_that_cannot_be_are_refused(loan, director, counts):
    refused(
        AccessoriesError,
        loan=loan,
        taken_back=make_return_walk(loan),
        accessories_back=counts,
        actor=director,
        at=LATER,
    )


def test_an_instrument_given_up_for_lost_can_still_come_back(loan, director):
    move_instrument(
        instrument=loan.instrument, expected="with_student", to="not_found", actor=director, at=NOW + timedelta(days=50)
    )
    return_loan(loan=loan, taken_back=make_return_walk(loan), accessories_back=back(loan), actor=director, at=LATER)
    assert Instrument.objects.get(pk=loan.instrument_id).whereabouts == "in_store"


def test_a_drum_goes_into_no_mouth_and_needs_no_cleaning(school, director):
    loan = make_loan(instrument=make_ready_instrument(school=school, kind_code="bass_drum_concert"), actor=director)
    return_loan(loan=loan, taken_back=make_return_walk(loan), accessories_back=back(loan), actor=director, at=LATER)
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    assert not instrument.is_hygiene_due
    assert instrument.readiness == "may_go_out"


def readiness_codes(loan):
    row = Instrument.objects.get(pk=loan.instrument_id)
    return [reason["code"] for reason in row.readiness_reasons if reason["stays_in"]]


def test_without_an_inspection_it_stays_in_until_one_is_finished_which_is_then_the_loans(loan, director):
    closed = return_loan(loan=loan, taken_back=None, accessories_back=back(loan), actor=director, at=LATER)
    assert closed.taken_back is None
    assert readiness_codes(loan) == ["return_inspection", "hygiene"]
    make_inspection(instrument=loan.instrument, purpose=Purpose.SPOT, at=LATER + timedelta(hours=1))
    assert "return_inspection" in readiness_codes(loan)
    walk = make_return_walk(loan, at=LATER + timedelta(hours=2))
    loan.refresh_from_db()
    assert loan.taken_back == walk
    assert readiness_codes(loan) == ["hygiene"]


def test_one_that_was_imported_and_never_inspected_comes_back_too(school, director):
    out = Listed(make_instrument(school=school), make_student(school=school), TODAY, TODAY, new_nonce())
    (loan,) = lend_as_listed(listed=[out], is_signed_elsewhere=True, actor=director, at=NOW)
    return_loan(loan=loan, taken_back=None, accessories_back={}, actor=director, at=LATER)
    assert readiness_codes(loan) == ["return_inspection", "hygiene"]
    make_return_walk(loan, at=LATER)
    loan.refresh_from_db()
    assert loan.taken_back.purpose == Purpose.RETURN


def test_a_slip_is_undone_within_a_minute_as_if_it_had_not_come_back(loan, director):
    before = list(loan.instrument.accessories.values_list("code", "present"))
    return_loan(loan=loan, taken_back=None, accessories_back={}, actor=director, at=LATER)
    undo_return(loan=loan, actor=director, at=LATER + timedelta(seconds=59))
    loan.refresh_from_db()
    row = Instrument.objects.get(pk=loan.instrument_id)
    assert loan.is_open
    assert (loan.returned_to, loan.accessories_back) == (None, [])
    assert (row.whereabouts, row.is_hygiene_due, row.is_return_inspection_due) == ("with_student", False, False)
    assert list(row.accessories.values_list("code", "present")) == before
    again = LATER + timedelta(days=1)
    assert return_loan(loan=loan, taken_back=None, accessories_back=back(loan), actor=director, at=again).returned_at


def test_undoing_a_return_reverses_what_was_charged_unless_the_family_has_paid(loan, director):
    def enter(sort: str, amount: int, **more):
        fields = {"student": loan.student, "on": TODAY, "actor": director, "at": LATER, "nonce": new_nonce()}
        return enter_in_ledger(sort=sort, amount=Decimal(amount), **fields | more)

    enter("loss", 200, loan=loan)  # as it was lost, before it came back
    enter("payment", 200, reckoning={"by": "cash"})
    return_loan(loan=loan, taken_back=None, accessories_back=back(loan), actor=director, at=LATER)
    charge = enter("damage", 40, loan=loan)
    payment = enter("payment", 15, reckoning={"by": "cash"})
    asked = {"loan": loan, "actor": director, "at": LATER + timedelta(seconds=9)}
    late = asked | {"at": LATER + timedelta(seconds=61)}
    assert "reverse the charge for damage on the family's account" in makers.refused(
        undo_return, ReturnUndoneError, **late
    )
    assert "$40 was charged for damage" in makers.refused(undo_return, ReturnUndoneError, **asked)
    loan.refresh_from_db()
    assert (loan.is_open, owed_by(loan.student)) == (False, 25)
    reverse_entry(entry=payment, because="Slip", actor=director, at=LATER, nonce=new_nonce())
    assert undo_return(**asked).is_open
    charge.refresh_from_db()
    assert (charge.reversal.actor, charge.reversal.note) == (director, "The return was undone.")
    assert owed_by(loan.student) == 0
    assert [one.sort for one in LedgerEntry.objects.standing()] == ["payment", "loss"]
    acts = list(Event.objects.order_by("number").values_list("act", flat=True))
    assert acts.index("return_undone") > len(acts) - 1 - acts[::-1].index("ledger_entered")
    assert list(ledger_differences()) == []


def test_nothing_is_undone_later_or_twice(loan, director):
    asked = {"loan": loan, "actor": director, "at": LATER + timedelta(seconds=61)}
    assert "no longer taken back" in makers.refused(undo_return, ReturnUndoneError, **asked)
    return_loan(loan=loan, taken_back=None, accessories_back=back(loan), actor=director, at=LATER)
    assert "More than a minute" in makers.refused(undo_return, ReturnUndoneError, **asked)


def test_what_was_missing_is_said_after_it_was_taken_back(loan, director):
    code = loan.accessories[0]["code"]
    said = {"loan": loan, "accessories_back": back(loan) | {code: 0}, "actor": director, "at": LATER}
    makers.refused(correct_accessories_back, AccessoriesError, **said)  # it is still out
    return_loan(loan=loan, taken_back=None, accessories_back=back(loan), actor=director, at=LATER)
    correct_accessories_back(**said)
    assert loan.instrument.accessories.get(code=code).present == 0
    assert Event.objects.filter(act="return_recounted").latest("number").after["accessories_short"] == {code: 1}
    makers.refused(correct_accessories_back, AccessoriesError, **said | {"accessories_back": {"anvil": 1}})
