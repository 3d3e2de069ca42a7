"""The clock of a job: one step at a time, attended minutes apart from waits."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from repairs.exceptions import StepRefusedError
from repairs.models import Attempt, StepClock
from repairs.rules.facts import Outcome
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import (
    acknowledge_cautions,
    do_step,
    let_it_wait,
    start_step,
    stop_clock,
)
from tests.factories import new_nonce
from tests.repairs.makers import (
    LATER,
    do_next,
    fresh,
    make_job,
    next_step,
    refused,
)


def step_with_wait(job):
    return next(step for step in plan_for_job(fresh(job)).steps if step.wait_h > 0 and not step.waits_on)


def test_the_clock_gives_the_minutes(school, tech):
    job = make_job(school=school, actor=tech)
    step = next_step(job)
    start_step(job=job, step_key=step.key, actor=tech, at=LATER)
    result = do_next(job, Outcome.FREED, at=LATER + timedelta(minutes=7))
    assert result.attempt.minutes == Decimal("7.0")
    assert not StepClock.objects.exists()


def test_a_clock_left_running_overnight_teaches_nothing(school, tech):
    job = make_job(school=school, actor=tech)
    start_step(job=job, step_key=next_step(job).key, actor=tech, at=LATER)
    assert do_next(job, Outcome.FREED, at=LATER + timedelta(hours=19)).attempt.minutes is None


def test_minutes_end_where_the_wait_begins(school, tech):
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    acknowledge_cautions(job=job, actor=tech, at=LATER)
    step = step_with_wait(job)
    start_step(job=job, step_key=step.key, actor=tech, at=LATER)
    clock = let_it_wait(job=job, step_key=step.key, actor=tech, at=LATER + timedelta(minutes=9))
    assert clock.waits_until == LATER + timedelta(minutes=9) + timedelta(hours=float(step.wait_h))
    again = let_it_wait(job=job, step_key=step.key, actor=tech, at=LATER + timedelta(minutes=30))
    assert again.waits_until == clock.waits_until
    result = do_step(job=job, step_key=step.key, outcome="done", actor=tech, at=clock.waits_until, nonce=new_nonce())
    assert result.attempt.minutes == Decimal("9.0")


def test_a_step_without_a_wait_cannot_be_let_wait(school, tech):
    job = make_job(school=school, actor=tech)
    refused(StepRefusedError, let_it_wait, job=job, step_key=next_step(job).key, actor=tech, at=LATER)


def test_a_start_by_mistake_is_taken_back(school, tech):
    job = make_job(school=school, actor=tech)
    start_step(job=job, step_key=next_step(job).key, actor=tech, at=LATER)
    stop_clock(job=job, actor=tech, at=LATER)
    assert not StepClock.objects.exists()
    assert not Attempt.objects.exists()
