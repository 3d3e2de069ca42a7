"""What came back worse, and what may be charged for it: from an estimate, a finished job and a shop's bill, by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.photos import clean_photo
from desk.selectors.charging import Basis, charge_of, key_of, photos_of, returned_loan, value_of_lent
from inventory.models import Finding, Instrument
from inventory.services.care import keep_photo
from loans.models import Loan
from loans.services import renew_loan, return_loan
from repairs.services.jobs import open_job, prove_job
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument, new_nonce
from tests.loans.makers import all_back, make_loan, make_return_walk, make_returned_loan
from tests.pictures import jpeg
from tests.repairs.makers import do_next, make_school_bench, next_step
from tests.repairs.money_makers import make_returned_order

pytestmark = pytest.mark.django_db
D = Decimal
DENT = ("bell_bow", "dent_small", "severe")
LACQUER = ("finish", "lacquer_wear", "light")
DENTED, WORN = key_of("bell_bow", "", "dent_small"), key_of("finish", "", "lacquer_wear")
LATER = NOW + timedelta(days=130)


@pytest.fixture
def loan(school):
    instrument = make_ready_instrument(school=school, year_made=2024)
    return make_returned_loan([DENT, LACQUER], instrument=instrument)


def test_the_dent_is_damage_and_the_lacquer_is_wear(loan):
    returned = returned_loan(loan)
    assert {one.key: one.ruling for one in returned.changes} == {DENTED: "damage", WORN: "wear"}
    assert (set(returned.offered), returned.proposed, returned.months) == ({DENTED}, (DENTED,), 3)


def test_a_renewed_loan_was_out_from_its_first_term_on(school, director):
    first = loan = make_loan(school=school, actor=director)
    for days in (100, 200):
        at = NOW + timedelta(days=days)
        due_on = TODAY + timedelta(days=days + 100)
        loan = renew_loan(loan=loan, due_on=due_on, actor=director, at=at, nonce=new_nonce())
        photo = clean_photo(jpeg())
        keep_photo(instrument=loan.instrument, photo=photo, actor=director, at=at - timedelta(days=9), part="bell_bow")
    walk = make_return_walk(loan, at=NOW + timedelta(days=300))
    back = return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), actor=director, at=walk.finished_at)
    returned = returned_loan(back)
    assert (returned.first, returned.months) == (first, 9)
    assert photos_of(returned) == ({}, {}), "from before it went out, and from after it came back"


def test_the_value_is_straight_line_from_the_price_agreed(loan):
    """A trumpet of 650 dollars and 15 years keeps 65 at the end: 39 a year are lost. It was made two years ago."""
    Loan.objects.filter(pk=loan.pk).update(replacement_amount=D(650))
    loan.refresh_from_db()
    assert value_of_lent(loan, on=TODAY).as_is_amount == D("572.00")
    loan.replacement_amount = D(1300)
    assert value_of_lent(loan, on=TODAY).as_is_amount == D("1144.00")


def test_what_was_wrong_at_hand_out_is_not_paid_by_the_family(school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("bell_bow", "dent_small", "light")])
    instrument = Instrument.objects.get(pk=instrument.pk)
    worse = make_returned_loan([("bell_bow", "dent_small", "severe")], instrument=instrument)
    found = charge_of(returned_loan(worse), chosen=[DENTED])
    assert found.cap.cost == max(D(0), found.costs[0].amount - found.as_lent_amount)


def test_a_finished_job_counts_with_what_it_took(loan, tech):
    bench = make_school_bench(loan.school, profile="full", rate_amount=D(30))
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    job = open_job(instrument=instrument, bench=bench, actor=tech, at=LATER)
    dents = [row.pk for row in Finding.objects.filter(instrument=instrument, part="bell_bow")]
    for minutes in range(20, 500, 20):
        step = next_step(job)
        if step is None or step.method == "play_test":
            break
        do_next(job, minutes=D(20), at=LATER + timedelta(minutes=minutes))
    prove_job(job=job, result="pass", actor=tech, at=LATER + timedelta(hours=9))
    tries = [one for one in job.attempts.all() if set(one.findings) & set(dents)]
    assert tries
    found = charge_of(returned_loan(loan), chosen=[DENTED])
    (cost,) = found.costs
    assert (cost.basis, cost.number) == (Basis.JOB, job.pk)
    by_hand = sum(D(20) * 30 / 60 + one.parts_amount for one in tries)  # 10 dollars a step
    assert cost.whole == by_hand
    assert cost.amount == by_hand
    assert found.cap.cost == by_hand


def test_a_shops_bill_for_two_faults_is_parted(school):
    stuck = ("third_valve_slide", "slide_seized", "moderate")
    instrument = make_ready_instrument(school=school, replacement_amount=D(2000))
    loan = make_returned_loan([DENT, stuck], instrument=instrument)
    rows = {row.part: row.pk for row in Finding.objects.filter(inspection=loan.taken_back)}
    order = make_returned_order(
        instrument=Instrument.objects.get(pk=instrument.pk), findings=list(rows.values()), amount=120, at=LATER,
    )  # fmt: skip
    found = charge_of(returned_loan(loan), chosen=[DENTED])
    assert order.pk
    assert [(one.basis, one.whole) for one in found.costs] == [(Basis.INVOICE, D(120))]
    assert 0 < found.costs[0].amount < 120
