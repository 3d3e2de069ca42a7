"""How many minutes an attempt took."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from repairs.models import StepClock
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import do_step, start_step
from repairs.services.jobs.minutes import attended_minutes, planned_minutes
from tests.factories import new_nonce
from tests.repairs.makers import LATER, STUCK, make_job, next_step, read_cautions


def test_a_clock_that_ran_while_its_person_began_another_step_tells_nothing(school, tech):
    job = make_job(school=school, actor=tech, findings=[("mouthpiece", "mouthpiece_stuck", "severe"), STUCK])
    free = [step for step in plan_for_job(job).steps if not step.waits_on and not step.wait_h]
    first, second = free[:2]
    start_step(job=job, step_key=first.key, actor=tech, at=LATER)
    start_step(job=job, step_key=second.key, actor=tech, at=LATER + timedelta(minutes=3))
    read_cautions(job, actor=tech)
    common = {"job": job, "outcome": "skipped", "actor": tech}
    ended = do_step(step_key=second.key, at=LATER + timedelta(minutes=7), nonce=new_nonce(), **common).attempt
    assert ended.minutes == 4
    late = do_step(step_key=first.key, at=LATER + timedelta(minutes=9), nonce=new_nonce(), **common).attempt
    assert late.minutes is None


@pytest.mark.parametrize(("took", "known"), [(0, None), (7.25, Decimal("7.2")), (480, Decimal(480)), (481, None)])
def test_a_clock_tells_the_minutes_unless_it_ran_overnight(school, tech, took, known):
    job = make_job(school=school, actor=tech)
    step = next(one for one in plan_for_job(job).steps if not one.wait_h and not one.waits_on)
    start_step(job=job, step_key=step.key, actor=tech, at=LATER)
    clock = StepClock.objects.get(step_key=step.key)
    assert attended_minutes(clock=clock, step=step, at=LATER + timedelta(minutes=took)) == known
    assert attended_minutes(clock=None, step=step, at=LATER) is None


def test_a_step_left_out_counts_no_planned_minutes(school, tech):
    step = next_step(make_job(school=school, actor=tech))
    assert planned_minutes(step=step, outcome="skipped") is None
    assert planned_minutes(step=step, outcome="stopped") == Decimal(str(step.minutes.likely)).quantize(Decimal("0.1"))
