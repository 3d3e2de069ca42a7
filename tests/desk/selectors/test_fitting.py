from __future__ import annotations

from desk.selectors.fitting import kind_for, loans_by_student, play_test_limits, ready_instruments
from inventory.services.care import record_play_test
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_loan


def test_without_a_choice_it_is_the_kind_that_the_student_had_last(school):
    loan = make_loan(school=school)
    assert kind_for(loan.student, wanted="") == loan.instrument.kind_code
    assert kind_for(loan.student, wanted="flute") == "flute"
    assert kind_for(make_student(school=school), wanted="") == ""


def test_an_unknown_kind_counts_as_no_choice(school):
    assert kind_for(make_student(school=school), wanted="<b>") == ""


def test_loans_are_those_still_open_at_the_school(school):
    loan = make_loan(school=school)
    make_loan()
    assert loans_by_student(school) == {loan.student_id: [(loan.instrument.asset_number, loan.instrument.kind_code)]}


def test_a_passed_play_test_names_no_limits(school, tech):
    row = make_ready_instrument(school=school)
    assert play_test_limits(row) == ""
    record_play_test(instrument=row, result="limits", limits_text="Thin on top.", actor=tech, at=NOW)
    assert play_test_limits(row) == "Thin on top."


def test_ready_instruments_are_in_store_and_of_the_school(school):
    ready = make_ready_instrument(school=school)
    make_ready_instrument()
    make_instrument(school=school)
    make_loan(school=school)
    assert ready_instruments(school, today=TODAY) == [ready]
