"""Lending: what it writes, and that each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.db import transaction

from core.exceptions import UsedFormError
from core.models import Event
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Inspection, Instrument, Purpose
from inventory.services.care import record_play_test, require_hygiene
from inventory.services.inspecting import start_inspection
from loans.exceptions import (
    AccessoriesError,
    DueDateError,
    InspectionMissingError,
    LimitsReasonError,
    StaysInError,
    StudentRefusedError,
)
from loans.models import Loan, Student
from loans.services import lend_instrument
from tests.contests import at_once
from tests.factories import (
    NOW,
    TODAY,
    make_director,
    make_inspection,
    make_ready_instrument,
    make_school,
    make_student,
    new_nonce,
)
from tests.loans import makers
from tests.loans.makers import all_counts, make_hand_out, make_loan, state_of_rows


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


@pytest.fixture
def hand_out(instrument, director):
    return make_hand_out(instrument, actor=director)


@pytest.fixture
def offer(instrument, school, director, hand_out):
    """What a director gives to the service for a ready instrument."""
    return {
        "instrument": instrument,
        "student": make_student(school=school, name="Robin Reed"),
        "due_on": TODAY + timedelta(days=30),
        "accessories": all_counts(instrument),
        "hand_out": hand_out,
        "actor": director,
        "at": NOW,
        "nonce": new_nonce(),
    }


refused = partial(makers.refused, lend_instrument)


def limited(instrument, director):
    record_play_test(instrument=instrument, result="limits", limits_text="Slow low notes.", actor=director, at=NOW)
    return Instrument.objects.get(pk=instrument.pk)


def test_a_ready_instrument_goes_to_the_student_with_everything(offer, instrument):
    loan = lend_instrument(**offer)
    fresh = Instrument.objects.get(pk=instrument.pk)
    assert fresh.whereabouts == "with_student"
    assert fresh.readiness == "stays_in"
    assert (loan.lent_on, loan.due_on, loan.returned_at) == (TODAY, offer["due_on"], None)
    assert {row["code"]: row["count"] for row in loan.accessories} == all_counts(instrument)
    assert loan.replacement_amount > 0
    assert Custody.objects.get(instrument=instrument, until=None).reference == f"loan:{loan.pk}"


def test_the_event_says_what_happened_and_never_a_name(offer):
    offer["student"].guardians.update(phone="555-0100")
    loan = lend_instrument(**offer, limits_reason="Robin asked for it")
    event = Event.objects.get(act="lent")
    assert event.after["student"] == loan.student_id
    told = " ".join(f"{row.before}{row.after}" for row in Event.objects.all())
    assert "Robin" not in told
    assert "555-0100" not in told


def test_the_same_form_posted_twice_is_one_loan(offer):
    first = lend_instrument(**offer)
    before = state_of_rows()
    assert lend_instrument(**offer).pk == first.pk
    assert state_of_rows() == before


def test_a_form_used_for_another_instrument_is_refused(offer, school, director):
    lend_instrument(**offer)
    other = make_ready_instrument(school=school)
    refused(UsedFormError, **offer | {"instrument": other})
    refused(UsedFormError, **offer | {"student": make_student(school=school)})


def test_an_instrument_that_is_out_cannot_be_lent_again(offer, school):
    lend_instrument(**offer)
    told = refused(InstrumentUnavailableError, **offer | {"student": make_student(school=school), "nonce": new_nonce()})
    assert "with a student" in told
    assert "nothing was changed" in told


def test_an_instrument_that_stays_in_is_refused_with_its_reasons(offer, instrument, director):
    require_hygiene(instrument=instrument, actor=director, at=NOW)
    told = refused(StaysInError, **offer)
    assert "not clean" in told


def test_no_reason_sends_out_what_is_never_issued_before_its_repair(offer, instrument):
    make_inspection(instrument=instrument, findings=[("braces_and_finger_hooks", "solder_broken", "light")])
    told = refused(StaysInError, **offer, limits_reason="She has a concert tonight.")
    assert "One open joint loads the next" in told


def test_an_instrument_whose_inspection_is_too_old_stays_in(offer):
    years = timedelta(days=800)
    assert "too old" in refused(StaysInError, **offer | {"at": NOW + years, "due_on": TODAY + years})


def test_limits_need_a_reason(offer, instrument, director):
    limited(instrument, director)
    refused(LimitsReasonError, **offer | {"limits_reason": "   "})


def test_with_a_reason_an_instrument_with_limits_goes_out_and_the_loan_keeps_both(offer, instrument, director):
    limited(instrument, director)
    loan = lend_instrument(**offer, limits_reason="Starts on the upper notes.")
    assert loan.limits == ["Slow low notes."]
    assert loan.limits_reason == "Starts on the upper notes."


def test_a_reason_without_limits_is_not_kept(offer):
    assert lend_instrument(**offer, limits_reason="because").limits_reason == ""


@pytest.mark.parametrize("days", [-1, 4000])
def test_a_return_date_before_the_loan_or_years_away_is_refused(offer, days):
    refused(DueDateError, **offer | {"due_on": TODAY + timedelta(days=days)})


def test_it_may_be_due_on_the_same_day(offer):
    assert lend_instrument(**offer | {"due_on": TODAY}).due_on == TODAY


def test_a_student_of_another_school_is_refused(offer):
    refused(StudentRefusedError, **offer | {"student": make_student(school=make_school())})


@pytest.mark.parametrize("gone", [{"left_on": TODAY}, {"erased_at": NOW}])
def test_a_student_who_has_left_or_was_erased_is_refused(offer, gone):
    Student.objects.filter(pk=offer["student"].pk).update(**gone)
    offer["student"].refresh_from_db()
    refused(StudentRefusedError, **offer)


def test_without_an_essential_accessory_it_does_not_go_out(offer, instrument):
    essential = instrument.accessories.filter(is_essential=True).first()
    told = refused(AccessoriesError, **offer | {"accessories": all_counts(instrument) | {essential.code: 0}})
    assert essential.name in told


@pytest.mark.parametrize("counts", [{"spare wheel": 1}, {"mouthpiece": -1}])
def test_counts_that_cannot_be_are_refused(offer, instrument, counts):
    refused(AccessoriesError, **offer | {"accessories": all_counts(instrument) | counts})


def test_an_extra_kept_in_store_stays_counted(offer, instrument):
    extra = instrument.accessories.filter(is_essential=False).first()
    instrument.accessories.filter(pk=extra.pk).update(present=extra.expected)
    loan = lend_instrument(**offer | {"accessories": all_counts(instrument) | {extra.code: 0}})
    assert extra.code not in {row["code"] for row in loan.accessories}
    assert instrument.accessories.get(pk=extra.pk).present == extra.expected


def test_what_was_thought_missing_and_goes_along_clears_the_reason(offer, instrument, director):
    essential = instrument.accessories.filter(is_essential=True).first()
    instrument.accessories.filter(pk=essential.pk).update(present=0)
    loan = lend_instrument(**offer)
    assert loan.pk
    assert instrument.accessories.get(pk=essential.pk).present == essential.expected


def test_an_unfinished_hand_out_inspection_is_refused(offer, instrument, director):
    draft = start_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=director, at=NOW)
    refused(InspectionMissingError, **offer | {"hand_out": draft})


def test_another_instruments_inspection_is_refused(offer, school):
    other = Inspection.objects.filter(instrument=make_ready_instrument(school=school)).first()
    refused(InspectionMissingError, **offer | {"hand_out": other})


@pytest.mark.django_db(transaction=True)
def test_two_people_lend_the_last_instrument_at_the_same_moment_and_one_of_them_gets_it():
    """Two real connections, on either database; on PostgreSQL both are inside the service at once."""
    assert sorted(race_for_an_instrument()) == ["lent", "too late"]


def race_for_an_instrument() -> list[str]:
    instrument = make_ready_instrument()
    director = make_director(instrument.school)
    hand_out = make_hand_out(instrument, actor=director)
    students = [make_student(school=instrument.school) for _ in range(2)]

    def lend(student: Student) -> str:
        try:
            with transaction.atomic():
                lend_instrument(
                    instrument=instrument,
                    student=student,
                    due_on=TODAY,
                    accessories=all_counts(instrument),
                    hand_out=hand_out,
                    actor=director,
                    at=NOW,
                    nonce=new_nonce(),
                )
        except InstrumentUnavailableError:
            return "too late"
        return "lent"

    outcomes = at_once(*(partial(lend, student) for student in students))
    assert Loan.objects.count() == 1
    assert Custody.objects.filter(instrument=instrument, until=None).count() == 1
    return outcomes


def test_the_maker_of_loans_makes_one_that_passes_its_checks(db):
    make_loan().full_clean()


@pytest.mark.parametrize(("wanted", "then"), [("trumpet", ""), ("flute", "flute")])
def test_a_student_who_gets_what_was_waited_for_waits_no_more(offer, wanted, then):
    Student.objects.filter(pk=offer["student"].pk).update(wants_kind=wanted)
    lend_instrument(**offer)
    assert Student.objects.get(pk=offer["student"].pk).wants_kind == then
