"""A job is opened, and proved or given up; each refusal leaves every row as it was."""

from __future__ import annotations

import pytest

from core.models import Event
from inventory.exceptions import InstrumentUnavailableError, RefusedError
from inventory.models import Finding, Instrument, PlayTest, Role, Whereabouts
from repairs.exceptions import JobOpenError, NotProvedError
from repairs.models import Job
from repairs.selectors.planning import job_state
from repairs.services.jobs import (
    give_up_job,
    open_job,
    prove_job,
)
from tests.contests import at_once
from tests.factories import make_ready_instrument, make_school, make_user
from tests.repairs.makers import (
    LATER,
    LEAKING_CORK,
    STUCK,
    fresh,
    make_job,
    make_school_bench,
    next_step,
    refused,
    work_to_the_proof,
)


def test_opening_takes_the_instrument_from_the_store_to_the_bench(school, tech):
    job = make_job(school=school, actor=tech)
    assert job.instrument.pk
    assert Instrument.objects.get(pk=job.instrument_id).whereabouts == Whereabouts.ON_BENCH
    assert Event.objects.filter(act="job_opened").count() == 1


def test_a_second_job_on_the_same_instrument_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(JobOpenError, open_job, instrument=job.instrument, bench=job.bench, actor=tech, at=LATER)


def test_an_instrument_that_is_not_in_store_is_refused(school, tech):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts=Whereabouts.NOT_FOUND)
    bench = make_school_bench(school)
    refused(InstrumentUnavailableError, open_job, instrument=instrument, bench=bench, actor=tech, at=LATER)


@pytest.mark.django_db(transaction=True)
def test_two_who_take_the_same_instrument_at_once_get_one_job(transactional_db):
    school = make_school()
    tech, other = (make_user(Role.TECH, school=school) for _ in range(2))
    instrument, bench = make_ready_instrument(school=school), make_school_bench(school)
    answers = at_once(
        lambda: open_job(instrument=instrument, bench=bench, actor=tech, at=LATER),
        lambda: open_job(instrument=instrument, bench=bench, actor=other, at=LATER),
    )
    assert sorted(isinstance(answer, Job) for answer in answers) == [False, True]
    assert Job.objects.count() == 1


def test_the_job_closes_only_when_nothing_is_left(school, tech):
    job = make_job(school=school, actor=tech)
    words = refused(NotProvedError, prove_job, job=job, result="pass", actor=tech, at=LATER)
    assert next_step(job).say in words


def test_with_limits_in_words_it_may_close_while_steps_are_left(school, tech):
    job = make_job(school=school, actor=tech)
    closed = prove_job(job=job, result="limits", limits_text="Low D is sharp.", leaves_rest=True, actor=tech, at=LATER)
    assert closed.closed_at == LATER
    assert Instrument.objects.get(pk=job.instrument_id).whereabouts == Whereabouts.IN_STORE


def test_limits_without_words_are_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(RefusedError, prove_job, job=job, result="limits", leaves_rest=True, actor=tech, at=LATER)


def test_a_failed_play_test_keeps_the_job_open(school, tech):
    job = work_to_the_proof(make_job(school=school, actor=tech))
    after = prove_job(job=job, result="fail", failed_notes=["D4"], actor=tech, at=LATER)
    assert after.closed_at is None
    instrument = Instrument.objects.get(pk=job.instrument_id)
    assert (instrument.whereabouts, instrument.verdict) == (Whereabouts.ON_BENCH, "does_not_play")


def test_what_is_found_again_keeps_the_job_open_and_is_worked_on_once_more(school, tech):
    job = work_to_the_proof(make_job(school=school, actor=tech, findings=[LEAKING_CORK]))
    part, fault, severity = LEAKING_CORK
    again = [{"part": part, "fault": fault, "severity": severity, "place": ""}]
    after = prove_job(job=job, result="pass", found_again=again, actor=tech, at=LATER)
    assert after.closed_at is None
    assert not PlayTest.objects.exists()
    state = job_state(fresh(job))
    planned = {one.fault for step in state.left_to_do for one in step.findings}
    assert fault in planned | {one.finding.fault for one in state.plan.send_out}


def test_giving_up_needs_a_reason(school, tech):
    job = make_job(school=school, actor=tech)
    refused(RefusedError, give_up_job, job=job, because="  ", actor=tech, at=LATER)


def test_giving_up_puts_the_instrument_back_as_it_is(school, tech):
    job = make_job(school=school, actor=tech)
    closed = give_up_job(job=job, because="Waits for money.", actor=tech, at=LATER)
    assert closed.ended_because == "Waits for money."
    instrument = Instrument.objects.get(pk=job.instrument_id)
    assert instrument.whereabouts == Whereabouts.IN_STORE
    assert Finding.objects.filter(instrument=instrument).standing().filter(fault=STUCK[1]).exists()
