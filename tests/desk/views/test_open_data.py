"""What a program gets of a row: codes beside words, amounts to the cent, nobody's name."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desk.selectors.open_data import Slice, instruments_for, values_for
from desk.views.open_data import ConditionOut, InstrumentOut, JobOut, LoanOut, ValueOut
from tests.factories import TODAY, make_instrument, make_limited_instrument, make_student
from tests.inventory.makers import make_integration_row
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job

pytestmark = pytest.mark.django_db


def test_a_finding_is_told_by_code_and_name(school):
    make_limited_instrument(school=school)
    (row,) = instruments_for(make_integration_row(), Slice(limit=1), today=TODAY)
    told = ConditionOut.of(row)
    assert [(one.part, one.fault, one.severity) for one in told.findings] == [
        ("third_valve_slide", "slide_seized", "severe")
    ]
    assert told.findings[0].part_name == "third valve slide"
    assert (told.verdict, told.readiness) == ("plays_with_limits", "may_go_out_with_limits")


def test_amounts_are_strings_with_two_places(school):
    make_instrument(school=school, acquisition_cost_amount=Decimal(500), replacement_amount=Decimal("712.5"))
    ((one,), _end) = values_for(make_integration_row(), Slice(limit=1), on=TODAY)
    told = ValueOut.of(one).model_dump(mode="json")
    assert (told["acquisition"], told["replacement"]) == ("500.00", "712.50")


def test_a_loan_says_nothing_of_who_has_it(school):
    loan = make_loan(school=school, student=make_student(school=school, name="Marigold Studentname", number="C-17"))
    row = instruments_for(make_integration_row(), Slice(limit=1), today=TODAY)[0]
    told = "".join(one.model_dump_json() for one in (LoanOut.of(loan), InstrumentOut.of(row), ConditionOut.of(row)))
    assert "Marigold" not in told
    assert "C-17" not in told
    assert ConditionOut.of(row).readiness is None, "it is not at hand"


def test_a_job_given_up_is_no_job_done(school):
    job = make_job(school=school)
    assert (JobOut.of(job).closed_on, JobOut.of(job).is_given_up) == (None, False)
