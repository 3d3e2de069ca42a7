"""Over the counter: all of it happens, or nothing."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.core.management import call_command

from core.exceptions import UsedFormError
from core.models import Event
from core.photos import clean_photo
from desk.selectors.lending import walk_since, walked_today
from desk.services.lending import (
    begin_hand_out_walk,
    begin_return_walk,
    lend_at_desk,
    take_back_at_desk,
)
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Inspection, Instrument, Photo, Purpose
from inventory.selectors.state import may_go_out, reasons_today
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from inventory.services.state import refresh_state
from loans.exceptions import AgreementRefusedError, StaysInError
from loans.models import Agreement, Loan, Student
from loans.selectors.papers import waiting_papers
from loans.services import Signing
from repairs.models import Job
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_student,
    new_nonce,
)
from tests.loans import makers
from tests.loans.makers import all_back, all_counts, ink, state_of_rows
from tests.opening import differences

LATER = NOW + timedelta(days=100)


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


@pytest.fixture
def offer(instrument, school, director):
    return {
        "instrument": instrument,
        "student": make_student(school=school),
        "due_on": TODAY + timedelta(days=30),
        "accessories": all_counts(instrument),
        "signing": Signing(
            signed="screen", student_signature=ink(), guardian_signature=ink(), guardian_signer="Gale Guardian"
        ),
        "actor": director,
        "at": NOW,
        "nonce": new_nonce(),
    }


refused = partial(makers.refused, lend_at_desk)


def test_an_instrument_goes_out_with_its_paper(offer):
    loan = lend_at_desk(**offer)
    agreement = Agreement.objects.get(loan=loan)
    assert waiting_papers().keys() == {agreement.pk}
    call_command("work", "--once")
    agreement.refresh_from_db()
    assert agreement.pdf
    assert len(agreement.pdf_sha256) == 64
    assert loan.hand_out.purpose == Purpose.HAND_OUT
    assert loan.hand_out.finished_at == NOW


def test_a_new_student_is_added_in_the_same_act(offer, school):
    person = {"name": "Quinn New", "grade": "5", "level": "first_year", "guardians": []}
    loan = lend_at_desk(**offer | {"student": None, "new_student": person})
    assert (loan.student.name, loan.student.school) == ("Quinn New", school)


def test_a_refusal_takes_back_the_student_the_inspection_and_the_loan(offer):
    person = {"name": "Quinn New", "grade": "5", "level": "first_year", "guardians": []}
    refused(
        AgreementRefusedError,
        **offer | {"student": None, "new_student": person, "signing": Signing(signed="screen")},
    )
    assert not Student.objects.filter(name="Quinn New").exists()


def test_the_same_form_twice_is_one_loan_and_one_paper(offer):
    first = lend_at_desk(**offer)
    before = state_of_rows()
    assert lend_at_desk(**offer) == first
    assert state_of_rows() == before


def test_a_page_sent_again_for_somebody_else_is_refused_and_does_not_say_lent(offer, school):
    lend_at_desk(**offer)
    refused(UsedFormError, **offer | {"student": make_student(school=school)})
    person = {"name": "Quinn New", "grade": "5", "level": "first_year", "guardians": []}
    refused(UsedFormError, **offer | {"student": None, "new_student": person})
    refused(UsedFormError, **offer | {"instrument": make_ready_instrument(school=school)})


def test_a_page_with_a_new_student_sent_twice_is_one_loan(offer):
    person = {"name": "Quinn  New", "grade": "5", "level": "first_year", "guardians": []}
    sent = offer | {"student": None, "new_student": person}
    assert lend_at_desk(**sent) == lend_at_desk(**sent)
    assert Student.objects.filter(name="Quinn New").count() == 1


def test_the_second_of_two_people_is_told_and_nothing_is_written(offer, school):
    lend_at_desk(**offer)
    other = offer | {"nonce": new_nonce(), "student": make_student(school=school)}
    assert "nothing was changed" in refused(InstrumentUnavailableError, **other)


def test_photos_stay_with_the_hand_out_inspection(offer):
    loan = lend_at_desk(**offer, photos=[clean_photo(ink())])
    assert Photo.objects.get().inspection == loan.hand_out


def test_an_old_inspection_is_not_made_young_by_copying(offer):
    years = timedelta(days=800)
    told = refused(StaysInError, **offer | {"at": NOW + years, "due_on": TODAY + years})
    assert "Inspect it first" in told


def test_an_instrument_nobody_inspected_does_not_go_out(offer, school):
    bare = make_instrument(school=school)
    refused(StaysInError, **offer | {"instrument": bare, "accessories": all_counts(bare)})


def test_a_walk_finished_today_is_the_hand_out_inspection(offer, instrument, director):
    walk = finish_inspection(
        inspection=begin_hand_out_walk(instrument=instrument, actor=director, at=NOW), actor=director, at=NOW
    )
    assert walked_today(instrument, today=TODAY) == walk
    assert lend_at_desk(**offer).hand_out == walk


def test_what_is_seen_on_the_hand_out_walk_goes_into_the_loan(offer, instrument, director):
    draft = begin_hand_out_walk(instrument=instrument, actor=director, at=NOW)
    record_finding(inspection=draft, part="bell_bow", fault="dent_small", severity="light", actor=director, at=NOW)
    loan = lend_at_desk(**offer)
    assert loan.hand_out == draft
    assert [finding.fault for finding in loan.hand_out.findings.all()] == ["dent_small"]


def test_same_as_at_hand_out_closes_the_loan_with_an_inspection_that_is_compared(offer, director):
    loan = lend_at_desk(**offer)
    closed = take_back_at_desk(loan=loan, accessories_back=all_back(loan), actor=director, at=LATER)
    assert closed.taken_back.purpose == Purpose.RETURN
    assert closed.taken_back.compared_with == loan.hand_out
    assert Instrument.objects.get(pk=loan.instrument_id).whereabouts == "in_store"


def test_same_as_at_hand_out_drops_a_walk_that_was_only_begun(offer, director):
    loan = lend_at_desk(**offer)
    draft = begin_return_walk(loan=loan, actor=director, at=LATER)
    take_back_at_desk(loan=loan, accessories_back={}, actor=director, at=LATER)
    assert Inspection.objects.get(pk=draft.pk).dropped_at == LATER


def test_damage_found_at_return_goes_straight_to_the_bench(offer, school, director):
    loan = lend_at_desk(**offer)
    walk = begin_return_walk(loan=loan, actor=director, at=LATER)
    assert walk.compared_with == loan.hand_out
    answer_safety(inspection=walk, is_safe=True, actor=director, at=LATER)
    record_finding(inspection=walk, part="bell_bow", fault="dent_small", severity="severe", actor=director, at=LATER)
    look_at_rest(inspection=walk, actor=director, at=LATER)
    walked = finish_inspection(inspection=walk, actor=director, at=LATER)
    assert walk_since(loan) == walked
    bench = make_bench(school=school)
    take_back_at_desk(
        loan=loan, accessories_back={}, walked=walked, bench=bench, because="dent", actor=director, at=LATER
    )
    job = Job.objects.get()
    assert (job.instrument_id, job.bench, job.because) == (loan.instrument_id, bench, "dent")
    assert Instrument.objects.get(pk=loan.instrument_id).whereabouts == "on_bench"
    assert next(event.act for event in Event.objects.filter(act__in=["returned", "job_opened"])) == "returned"


def test_a_second_return_is_refused_and_writes_nothing(offer, director):
    loan = lend_at_desk(**offer)
    take_back_at_desk(loan=loan, accessories_back={}, actor=director, at=LATER)
    before = state_of_rows()
    with pytest.raises(Exception, match="already been returned"):
        take_back_at_desk(loan=loan, accessories_back={}, actor=director, at=LATER)
    assert state_of_rows() == before


def test_loans_are_counted_once(offer):
    lend_at_desk(**offer)
    assert Loan.objects.count() == 1


def trusted(school, *, until):
    instrument = make_instrument(school=school, trusted_until=until)
    refresh_state(instrument=instrument, actor=None, at=NOW)
    return Instrument.objects.get(pk=instrument.pk)


def test_what_is_taken_on_trust_goes_out_without_an_inspection_until_that_day(offer, school):
    instrument = trusted(school, until=TODAY)
    assert may_go_out(instrument, today=TODAY)
    given = {"instrument": instrument, "accessories": all_counts(instrument)}
    refused(StaysInError, **offer | given | {"at": NOW + timedelta(days=1)})
    assert "trust in its list is over" in reasons_today(instrument, today=TODAY + timedelta(days=1))[0]["text"]
    loan = lend_at_desk(**offer | given)
    assert (loan.hand_out, loan.instrument.pk) == (None, instrument.pk)
    assert differences()[1] == []


def test_trust_covers_no_fault_that_somebody_found_and_nothing_unsafe(school, director):
    kept_in = trusted(school, until=TODAY)
    part, fault = next(
        (part.code, fault)
        for part in kept_in.parts
        for fault in catalog().faults_at(part)
        if kept_in.kind.kept_in_by(catalog().faults[fault], part=part, severity=Severity.SEVERE)
    )
    make_inspection(instrument=kept_in, findings=[(part, fault, "severe")])
    unsafe = trusted(school, until=TODAY)
    draft = start_inspection(instrument=unsafe, purpose=Purpose.INTAKE, actor=director, at=NOW)
    answer_safety(inspection=draft, is_safe=False, actor=director, at=NOW)
    finish_inspection(inspection=draft, actor=director, at=NOW)
    for instrument in (kept_in, unsafe):
        instrument.refresh_from_db()
        assert not may_go_out(instrument, today=TODAY)
