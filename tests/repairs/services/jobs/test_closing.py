"""A job is proved or given up; each refusal leaves every row as it was."""

from __future__ import annotations

from inventory.exceptions import RefusedError
from inventory.models import Finding, Instrument, PlayTest, Whereabouts
from repairs.exceptions import NotProvedError
from repairs.selectors.planning import job_state
from repairs.services.jobs import (
    give_up_job,
    prove_job,
)
from tests.repairs.makers import (
    LATER,
    LEAKING_CORK,
    STUCK,
    fresh,
    make_job,
    next_step,
    refused,
    work_to_the_proof,
)


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
    horn = Instrument.objects.get(pk=job.instrument_id)
    assert (horn.whereabouts, horn.verdict) == (Whereabouts.ON_BENCH, "does_not_play")


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


def test_giving_up_puts_the_horn_back_as_it_is(school, tech):
    job = make_job(school=school, actor=tech)
    closed = give_up_job(job=job, because="Waits for money.", actor=tech, at=LATER)
    assert closed.ended_because == "Waits for money."
    horn = Instrument.objects.get(pk=job.instrument_id)
    assert horn.whereabouts == Whereabouts.IN_STORE
    assert Finding.objects.filter(instrument=horn).standing().filter(fault=STUCK[1]).exists()
