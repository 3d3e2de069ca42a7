"""What is read of one instrument, and what reading costs."""

from __future__ import annotations

import pytest

from core.models import Event
from desk.selectors.instrument_record import instrument_record
from inventory.models import Instrument
from inventory.services.care import record_play_test
from repairs.services.jobs import open_job
from tests.factories import NOW, TODAY, make_bench, make_inspection, make_instrument, make_ready_instrument
from tests.loans.makers import make_loan


def record_of(row, user):
    fresh = Instrument.objects.select_related("school", "room").get(pk=row.pk)
    return instrument_record(fresh, user=user, today=TODAY)


@pytest.fixture
def stuck(school):
    row = make_instrument(school=school)
    make_inspection(instrument=row, findings=[("third_valve_slide", "slide_seized", "severe")])
    return row


def test_the_open_loan_is_read_with_it(school, director):
    loan = make_loan(school=school, actor=director)
    assert record_of(loan.instrument, director).loan == loan


def test_the_open_job_is_read_with_it(stuck, school, tech):
    fresh = Instrument.objects.get(pk=stuck.pk)
    job = open_job(instrument=fresh, bench=make_bench(school=school), actor=tech, at=NOW)
    assert record_of(stuck, tech).job == job


def test_play_tests_are_read_with_it(school, director, tech):
    row = make_ready_instrument(school=school)
    test = record_play_test(instrument=row, result="limits", limits_text="Weak below.", actor=tech, at=NOW)
    assert record_of(row, director).play_tests == [test]


def test_facts_name_maker_and_serial_and_no_donor(school, director):
    facts = dict(record_of(make_ready_instrument(school=school, serial=""), director).facts)
    assert facts["Serial"] == "none"
    assert facts["Maker and model"] == "Plain Brass Works"
    assert "Donor" not in facts


@pytest.mark.parametrize("role", ["director", "tech", "auditor", "administrator"])
def test_reading_takes_few_queries_whatever_is_wrong(stuck, role, request, django_assert_max_num_queries):
    user = request.getfixturevalue(role)
    fresh = Instrument.objects.select_related("school", "room").get(pk=stuck.pk)
    instrument_record(fresh, user=user, today=TODAY)  # the process sums all tries once, in three queries
    fresh = Instrument.objects.select_related("school", "room").get(pk=stuck.pk)
    with django_assert_max_num_queries(14):
        instrument_record(fresh, user=user, today=TODAY)


def test_reading_writes_nothing(stuck, director):
    before = Event.objects.count()
    record_of(stuck, director)
    assert Event.objects.count() == before
