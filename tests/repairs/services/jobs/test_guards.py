"""What no act on a job may be done without; each refusal leaves every row as it was."""

from __future__ import annotations

from repairs.exceptions import CautionsFirstError, JobClosedError, StepRefusedError
from repairs.rules.facts import Outcome
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import (
    acknowledge_cautions,
    add_finding_to_job,
    ask_again,
    do_step,
    give_up_job,
    let_it_wait,
    prove_job,
    start_step,
    stop_clock,
)
from tests.factories import new_nonce
from tests.repairs.makers import (
    LATER,
    LEAKING_CORK,
    make_job,
    next_step,
    refused,
)


def test_a_step_that_has_to_wait_for_others_is_refused_with_the_reason(school, tech):
    job = make_job(school=school, actor=tech)
    blocked = next(step for step in plan_for_job(job).steps if step.waits_on)
    words = refused(
        StepRefusedError,
        do_step,
        job=job,
        step_key=blocked.key,
        outcome="done",
        actor=tech,
        at=LATER,
        nonce=new_nonce(),
    )
    assert blocked.waits_on[0].say in words


def test_a_step_that_is_no_step_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(
        StepRefusedError, do_step, job=job, step_key="polish", outcome="done", actor=tech, at=LATER, nonce=new_nonce()
    )


def test_work_that_can_hurt_waits_until_the_cautions_were_read(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    step = next(one for one in plan_for_job(job).steps if one.acknowledgements)
    asked = {"job": job, "step_key": step.key, "outcome": "done", "actor": tech, "at": LATER, "nonce": new_nonce()}
    refused(CautionsFirstError, do_step, **asked)
    acknowledge_cautions(job=job, actor=tech, at=LATER)
    assert do_step(**asked).attempt.outcome == Outcome.DONE


def test_nothing_can_be_done_in_a_closed_job(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    give_up_job(job=job, because="Waits for money.", actor=tech, at=LATER)
    common = {"job": job, "actor": tech, "at": LATER}
    refused(JobClosedError, do_step, step_key=key, outcome="freed", nonce=new_nonce(), **common)
    refused(JobClosedError, start_step, step_key=key, **common)
    refused(JobClosedError, let_it_wait, step_key=key, **common)
    refused(JobClosedError, stop_clock, **common)
    refused(JobClosedError, acknowledge_cautions, **common)
    refused(JobClosedError, ask_again, step_key=key, **common)
    refused(JobClosedError, add_finding_to_job, part="case", fault="odor_mold", severity="light", **common)
    refused(JobClosedError, prove_job, result="pass", **common)
    refused(JobClosedError, give_up_job, because="Again.", **common)
