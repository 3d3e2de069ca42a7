"""Charged at most what it was worth, after the search; taken off by the rule when it is found."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import partial

from django.core.management import call_command

from desk.selectors.losses import loss_charge
from desk.services.losses import charge_for_loss, end_loss_case
from inventory.catalog.schema import Severity
from inventory.models import Inspection
from loans.exceptions import LossRefusedError, ReturnUndoneError
from loans.models import LedgerEntry, Loan
from loans.selectors.ledger import owed_by
from loans.selectors.losses import charge_for_loss_of, charged_loans
from loans.services import return_loan, undo_return
from loans.services.ledger import enter_in_ledger
from loans.services.losses import change_loss
from tests.factories import NOW, make_inspection, new_nonce
from tests.loans import makers
from tests.loans.makers import all_back, make_loan, make_loss, make_return_walk
from tests.opening import differences

LATER = NOW + timedelta(days=20)


def make_charged(**columns):
    loan = make_loan()
    Loan.objects.update(replacement_amount=Decimal(1000))
    loan.refresh_from_db()
    loss = make_loss(loan, **columns)
    charge = charge_for_loss(loss=loss, amount=loss_charge(loss).most, actor=loss.actor, at=LATER, nonce=new_nonce())
    return loss, charge


def refused(act, words, **arguments):
    assert words in makers.refused(partial(act, nonce=new_nonce()), LossRefusedError, **arguments)


def test_the_entry_keeps_the_value_and_how_it_came_about(db):
    loss, charge = make_charged()
    assert (charge.sort, charge.amount) == ("loss", Decimal(charge.reckoning["value"]))
    assert Decimal(0) < charge.amount <= 1000
    assert "a new one costs $1,000" in charge.reckoning["value_words"]
    assert owed_by(loss.loan.student) == charge.amount
    refused(charge_for_loss, "At most $0", loss=loss, amount=Decimal(1), actor=loss.actor, at=LATER)


def test_nobody_is_charged_during_the_search_above_the_value_or_before_the_police_knows(db):
    loss = make_loss(sort="stolen")
    act = {"loss": loss, "amount": Decimal(1), "actor": loss.actor}
    refused(charge_for_loss, "Nobody is charged before Sep 28, 2026", at=NOW + timedelta(days=13), **act)
    refused(charge_for_loss, "police report", at=LATER, **act)
    change_loss(loss=loss, steps={}, typed={"police_number": "26-1"}, actor=loss.actor, at=LATER)
    most = loss_charge(loss).most
    refused(charge_for_loss, "At most", at=LATER, **act | {"amount": most + Decimal("0.01")})
    charge_for_loss(nonce=new_nonce(), at=LATER, **act | {"amount": most})


def found(loss, *, days, **columns):
    asked = {"outcome": "student", "nonce": new_nonce(), "actor": loss.actor, "at": LATER + timedelta(days=days)}
    return end_loss_case(loss=loss, **asked | columns)


def test_found_in_time_all_of_it_is_taken_off(db):
    loss, charge = make_charged()
    found(loss, days=365)
    assert owed_by(loss.loan.student) == 0
    off = LedgerEntry.objects.get(sort="found")
    assert (off.reckoning["days"], off.reckoning["charge"]) == (365, charge.pk)
    call_command("ledger_check")


def test_found_later_nothing_is(db):
    loss, charge = make_charged()
    found(loss, days=366)
    assert owed_by(loss.loan.student) == charge.amount


def test_given_up_the_charge_stays(db):
    loss, charge = make_charged()
    found(loss, days=1, outcome="given_up")
    assert owed_by(loss.loan.student) == charge.amount


def test_damage_since_is_kept_back_and_it_is_inspected_first(db):
    loss, charge = make_charged()
    loan, at = loss.loan, LATER + timedelta(days=1)
    taken = {"loan": loan, "accessories_back": all_back(loan), "actor": loan.actor, "at": at}
    return_loan(taken_back=make_return_walk(loan, at=at), **taken)
    instrument = loan.instrument
    again = {"outcome": "found", "found_on": None}
    refused(end_loss_case, "Inspect it first", loss=loss, actor=loss.actor, at=at + timedelta(days=3), **again)
    make_inspection(
        instrument=instrument,
        findings=[("bell_bow", "dent_small", Severity.SEVERE)],
        at=at + timedelta(days=3),
    )
    assert Inspection.objects.filter(instrument=instrument).count() >= 3
    found(loss, days=4, **again)
    kept = owed_by(loan.student)
    assert 0 < kept < charge.amount
    assert kept == Decimal(LedgerEntry.objects.get(sort="found").reckoning["repair"])


def test_lost_again_after_it_was_found_it_is_charged_anew_and_that_is_taken_off_too(db):
    """Common practice, no source: each loss is charged for by itself."""
    loss, charge = make_charged()
    found(loss, days=10)
    loan, at = loss.loan, LATER + timedelta(days=40)
    again = make_loss(loan, noticed_on=(NOW + timedelta(days=30)).date(), at=NOW + timedelta(days=30))
    assert charge_for_loss_of(loan) is None
    assert charged_loans([loan.pk]) == set()
    most = loss_charge(again).most
    assert Decimal(0) < most <= charge.amount  # it is no younger
    second = charge_for_loss(loss=again, amount=most, actor=loss.actor, at=at, nonce=new_nonce())
    assert charge_for_loss_of(loan) == second
    assert charged_loans([loan.pk]) == {loan.pk}
    found(again, days=60)
    assert owed_by(loan.student) == 0
    call_command("ledger_check")


def test_found_too_late_to_take_anything_off_the_charge_counts_when_it_is_lost_again(db):
    loss, charge = make_charged()
    found(loss, days=366)
    again = make_loss(loss.loan, noticed_on=(LATER + timedelta(days=370)).date(), at=LATER + timedelta(days=370))
    assert charge_for_loss_of(loss.loan) == charge
    assert loss_charge(again).charged == charge.amount


def test_undoing_the_return_opens_the_case_again_and_charges_what_was_taken_off(db):
    loss, charge = make_charged()
    loan, at = loss.loan, LATER + timedelta(days=1)
    act = {"actor": loan.actor, "at": at}
    walk = make_return_walk(loan, at=at)
    return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), **act)
    found(loss, days=1, outcome="found")
    assert owed_by(loan.student) == 0
    undo_return(loan=loan, actor=loan.actor, at=at + timedelta(seconds=30))
    loss.refresh_from_db()
    assert (loss.ended_at, loss.ended_by, loss.outcome, loss.found_on) == (None, None, "", None)
    assert charge_for_loss_of(loan) == charge
    assert owed_by(loan.student) == charge.amount
    assert [line for line in differences()[1] if "replacement amount" not in line] == []
    call_command("ledger_check")


def test_a_refund_of_what_was_taken_off_keeps_the_return_from_being_undone(db):
    loss, charge = make_charged()
    loan, at = loss.loan, LATER + timedelta(days=1)
    entry = {"student": loan.student, "amount": charge.amount, "on": at.date(), "actor": loan.actor, "at": at}
    enter_in_ledger(sort="payment", reckoning={"by": "cash"}, nonce=new_nonce(), **entry)
    return_loan(
        loan=loan, taken_back=make_return_walk(loan, at=at), accessories_back=all_back(loan), actor=loan.actor, at=at
    )
    found(loss, days=1, outcome="found")
    enter_in_ledger(sort="refund", reckoning={"by": "cash"}, nonce=new_nonce(), **entry)
    words = makers.refused(undo_return, ReturnUndoneError, loan=loan, actor=loan.actor, at=at)
    assert "was credited because it was found" in words
    loss.refresh_from_db()
    assert loss.outcome == "found"
