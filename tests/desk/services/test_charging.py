"""Charging for damage: the cap worked by hand, from an estimate, a finished job and a shop's bill; and each refusal."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from desk.selectors.charging import charge_of, key_of, repair_amount, returned_loan
from desk.services.charging import charge_for_damage
from inventory.rules.facts import FindingFact
from loans.exceptions import LedgerRefusedError
from loans.models import LedgerEntry, Loan
from loans.selectors.ledger import ledger_differences, owed_by
from loans.services.ledger import reverse_entry
from tests.contests import at_once, went_well
from tests.factories import NOW, make_ready_instrument, new_nonce
from tests.loans.makers import make_loan, make_returned_loan
from tests.repairs.makers import make_school_bench

pytestmark = pytest.mark.django_db
D = Decimal
DENT = ("bell_bow", "dent_small", "severe")  # deep enough to bend the pitch: one that only shows is left as it is
LACQUER = ("finish", "lacquer_wear", "light")
DENTED = key_of("bell_bow", "", "dent_small")
WORN = key_of("finish", "", "lacquer_wear")
LATER = NOW + timedelta(days=130)


@pytest.fixture
def loan(school):
    instrument = make_ready_instrument(school=school, year_made=2024)
    return make_returned_loan([DENT, LACQUER], instrument=instrument)


def charge(loan: Loan, amount: str, chosen=(DENTED,), **more) -> LedgerEntry:
    fields = {"at": LATER, "nonce": new_nonce(), "actor": loan.actor} | more
    return charge_for_damage(loan=loan, chosen=chosen, amount=D(amount), **fields)


def most(loan: Loan, chosen=(DENTED,)) -> Decimal:
    return charge_of(returned_loan(loan), chosen=chosen).cap.amount


def test_an_estimate_is_the_cap_and_what_was_charged_keeps_how_it_came_about(loan):
    cap = most(loan)
    assert D(5) < cap < D(200)
    entry = charge(loan, str(cap))
    assert (entry.sort, entry.amount, entry.loan_id, owed_by(loan.student)) == ("damage", cap, loan.pk, cap)
    kept = entry.reckoning
    assert (kept["keys"], kept["most"], kept["costs"][0]["basis"]) == ([DENTED], str(cap), "plan")
    assert kept["findings"][0] == {
        "part": "bell_bow", "place": "", "fault": "dent_small", "before": None, "after": "severe", "ruling": "damage",
    }  # fmt: skip
    assert list(ledger_differences()) == []


def test_a_dent_that_only_shows_costs_its_repair_and_never_a_silent_nothing(school):
    """No plan has a price where the bench costs nothing: one is asked for, and is then the cap."""
    loan = make_returned_loan([("bell_bow", "dent_small", "light")], instrument=make_ready_instrument(school=school))
    assert repair_amount(loan.instrument, [FindingFact("bell_bow", "", "dent_small", "light")]) < 2, "left as it is"
    assert most(loan) > 5
    make_school_bench(school, profile="full", rate_amount=D(0))
    found = charge_of(returned_loan(loan), chosen=[DENTED])
    assert (found.unpriced, found.costs) == ((DENTED,), ())
    with pytest.raises(LedgerRefusedError, match="no price yet"):
        charge(loan, "5")
    assert not LedgerEntry.objects.exists()
    prices = {DENTED: D(40)}
    with pytest.raises(LedgerRefusedError, match=r"At most \$40"):
        charge(loan, "41", prices=prices)
    entry = charge(loan, "40", prices=prices)
    assert entry.reckoning["costs"] == [{"basis": "typed", "number": None, "whole": "40", "amount": "40"}]


@pytest.mark.parametrize(
    ("chosen", "words"),
    [((), "Choose what"), ((WORN,), "wear"), (("bell/none/x",), "Look at the comparison again")],
)
def test_wear_and_what_is_not_there_are_not_charged(loan, chosen, words):
    with pytest.raises(LedgerRefusedError, match=words):
        charge(loan, "1", chosen)
    assert not LedgerEntry.objects.exists()


def test_more_than_the_cap_nothing_twice_and_again_after_a_reversal(loan):
    cap = most(loan)
    with pytest.raises(LedgerRefusedError, match="At most"):
        charge(loan, str(cap + D("0.01")))
    entry = charge(loan, "5")
    with pytest.raises(LedgerRefusedError, match="charged already"):
        charge(loan, "5")
    reverse_entry(entry=entry, because="Slip", actor=loan.actor, at=LATER, nonce=new_nonce())
    assert charge(loan, "5").amount == 5


def test_a_loan_that_is_out_is_not_charged(school):
    with pytest.raises(LedgerRefusedError, match="not come back"):
        charge(make_loan(school=school), "5")


def test_an_old_instrument_is_charged_no_more_than_it_was_worth(school):
    """At the end of its life it counts for 30 dollars of 100, though a new piston costs more."""
    instrument = make_ready_instrument(school=school, year_made=1980, replacement_amount=D(100))
    loan = make_returned_loan([("bell", "bell_bent", "severe"), DENT], instrument=instrument)
    returned = returned_loan(loan)
    found = charge_of(returned, chosen=returned.proposed)
    assert found.value.as_is_amount == D("30.00")
    assert found.cap.amount == min(D("30.00"), found.cap.cost)
    entry = charge(loan, "10", (DENTED,))
    assert entry.reckoning["value"] == "30.00"
    left = charge_of(returned_loan(loan), chosen=set(returned.proposed) - {DENTED})
    assert left.cap.charged == 10
    assert left.cap.amount == min(D("20.00"), left.cap.cost)


def test_a_missing_mouthpiece_is_charged_by_the_price_of_a_new_one(school):
    loan = make_returned_loan(school=school, back={"mouthpiece": 0})
    key = "accessory/mouthpiece"
    prices = {key: D(45)}
    with pytest.raises(LedgerRefusedError, match=r"At most \$45"):
        charge(loan, "46", (key,), prices=prices)
    entry = charge(loan, "45", (key,), prices=prices)
    assert entry.reckoning["costs"] == [{"basis": "price", "number": None, "whole": "45", "amount": "45"}]
    assert not returned_loan(loan).offered


@pytest.mark.django_db(transaction=True)
def test_two_charges_at_once_are_one(school):
    loan = make_returned_loan([DENT], school=school)
    answers = at_once(*[lambda: charge(loan, "5")] * 2)
    assert len(went_well(answers)) == 1
    assert owed_by(loan.student) == 5
