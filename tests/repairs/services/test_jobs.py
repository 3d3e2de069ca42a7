"""The acts of a job; each refusal leaves every row as it was."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.models import Event
from inventory.exceptions import InstrumentUnavailableError, RefusedError
from inventory.models import Finding, Instrument, PlayTest, Role, Whereabouts
from repairs.exceptions import CautionsFirstError, JobClosedError, JobOpenError, NotProvedError, StepRefusedError
from repairs.models import Attempt, Job, Outcome, StepClock
from repairs.rules.plan import StepStatus
from repairs.selectors.planning import job_state, plan_for_job
from repairs.services.jobs import (
    Damage,
    acknowledge_cautions,
    add_finding_to_job,
    ask_again,
    do_step,
    give_up_job,
    let_it_wait,
    open_job,
    prove_job,
    start_step,
    stop_clock,
)
from tests.factories import NOW, make_ready_instrument, make_school, make_user, new_nonce
from tests.repairs.makers import (
    LEAKING_CORK,
    STUCK,
    do_next,
    fresh,
    make_job,
    make_school_bench,
    state_of_rows,
    work_to_the_proof,
)
from tests.repairs.services.race import at_once

LATER = NOW + timedelta(hours=3)


def next_step(job):
    return plan_for_job(fresh(job)).next_step


def step_with_wait(job):
    return next(step for step in plan_for_job(fresh(job)).steps if step.wait_h > 0 and step.status is StepStatus.READY)


def refused(error, act, **arguments):
    """The act raises the error and writes nothing."""
    before = state_of_rows()
    with pytest.raises(error) as caught:
        act(**arguments)
    assert state_of_rows() == before
    return str(caught.value)


def test_opening_takes_the_horn_from_the_store_to_the_bench(school, tech):
    job = make_job(school=school, actor=tech)
    assert job.instrument.pk
    assert Instrument.objects.get(pk=job.instrument_id).whereabouts == Whereabouts.ON_BENCH
    assert Event.objects.filter(act="job_opened").count() == 1


def test_a_second_job_on_the_same_horn_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(JobOpenError, open_job, instrument=job.instrument, bench=job.bench, actor=tech, at=LATER)


def test_a_horn_that_is_not_in_store_is_refused(school, tech):
    horn = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=horn.pk).update(whereabouts=Whereabouts.NOT_FOUND)
    bench = make_school_bench(school)
    refused(InstrumentUnavailableError, open_job, instrument=horn, bench=bench, actor=tech, at=LATER)


def test_a_freed_part_drops_the_harder_rungs_and_says_what_that_saves(school):
    job = make_job(school=school)
    result = do_next(job, Outcome.FREED)
    assert result.savings is not None
    assert result.savings.minutes > 0
    assert result.savings.rungs
    assert not any(step.rung for step in result.plan.steps)
    assert not Finding.objects.filter(instrument=job.instrument).standing().exists()


def test_a_stuck_part_gets_the_next_rung_and_the_tried_one_is_not_offered_again(school):
    job = make_job(school=school)
    first = next_step(job)
    after = do_next(job, Outcome.STILL_STUCK).plan
    assert first.key not in {step.key for step in after.steps}
    ladder = after.ladders[0]
    assert ladder.rungs[0].step_key == first.key
    assert ladder.ahead


def test_a_tried_rung_comes_back_when_it_is_asked_for(school, tech):
    job = make_job(school=school, actor=tech)
    first = next_step(job)
    do_next(job, Outcome.STILL_STUCK)
    ask_again(job=job, step_key=first.key, actor=tech, at=LATER)
    assert first.key in {rung.step_key for rung in plan_for_job(fresh(job)).ladders[0].ahead}


def test_the_same_form_posted_twice_is_one_attempt(school, tech):
    job = make_job(school=school, actor=tech)
    step, nonce = next_step(job), new_nonce()
    asked = {
        "job": job, "step_key": step.key, "outcome": "still_stuck", "actor": tech, "at": LATER, "nonce": nonce,
    }  # fmt: skip
    assert not do_step(**asked).was_known
    before = state_of_rows()
    again = do_step(**asked)
    assert again.was_known
    assert again.attempt.nonce == nonce
    assert state_of_rows() == before


def test_a_step_that_has_to_wait_for_others_is_refused_with_the_reason(school, tech):
    job = make_job(school=school, actor=tech)
    blocked = next(step for step in plan_for_job(job).steps if step.status is StepStatus.BLOCKED)
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


def test_an_outcome_that_does_not_fit_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    refused(StepRefusedError, do_step, job=job, step_key=key, outcome="done", actor=tech, at=LATER, nonce=new_nonce())


def test_the_play_test_is_no_step_to_tap_off(school, tech):
    job = work_to_the_proof(make_job(school=school, actor=tech))
    refused(
        StepRefusedError,
        do_step,
        job=job,
        step_key="play_test",
        outcome="done",
        actor=tech,
        at=LATER,
        nonce=new_nonce(),
    )


def test_work_that_can_hurt_waits_until_the_cautions_were_read(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    step = next(one for one in plan_for_job(job).steps if one.acknowledgements)
    asked = {"job": job, "step_key": step.key, "outcome": "done", "actor": tech, "at": LATER, "nonce": new_nonce()}
    refused(CautionsFirstError, do_step, **asked)
    acknowledge_cautions(job=job, actor=tech, at=LATER)
    assert do_step(**asked).attempt.outcome == Outcome.DONE


def test_cautions_are_acknowledged_once_for_the_job(school, tech):
    job = make_job(school=school, actor=tech)
    acknowledge_cautions(job=job, actor=tech, at=LATER)
    acknowledge_cautions(job=job, actor=make_user(Role.TECH, school=school), at=LATER + timedelta(hours=1))
    assert fresh(job).cautions_at == LATER
    assert fresh(job).cautions_by == tech
    assert Event.objects.filter(act="cautions_acknowledged").count() == 1


def test_a_later_rung_of_the_same_force_may_be_tried_first_and_the_passed_ones_stay(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, Outcome.STILL_STUCK)
    acknowledge_cautions(job=job, actor=tech, at=LATER)
    for _ in range(6):  # what the rungs need first
        step = next_step(job)
        if step.rung:
            break
        do_next(job, Outcome.DONE)
    ladder = plan_for_job(fresh(job)).ladders[0]
    other = next((one for one in ladder.ahead[1:] if one.force == ladder.ahead[0].force and not one.first), None)
    assert other is not None
    after = do_step(
        job=job, step_key=other.step_key, outcome="still_stuck", actor=tech, at=LATER, nonce=new_nonce()
    ).plan
    states = {rung.step_key: rung.state.value for rung in after.ladders[0].rungs}
    assert states[other.step_key] == "tried"
    assert states[ladder.ahead[0].step_key] in {"next", "later"}


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


def test_damage_joins_the_plan_with_the_outcome(school, tech):
    job = make_job(school=school, actor=tech)
    damage = Damage(part="third_valve_slide", fault="solder_broken", severity="moderate", note="at the crook")
    faults = {finding.fault for finding in Finding.objects.filter(instrument=job.instrument).standing()}
    assert "solder_broken" not in faults
    result = do_next(job, Outcome.DAMAGED, damage=damage)
    assert result.attempt.outcome == Outcome.DAMAGED
    standing = {finding.fault for finding in Finding.objects.filter(instrument=job.instrument).standing()}
    assert standing == {"slide_seized", "solder_broken"}
    planned = {one.fault for step in result.plan.steps for one in step.findings}
    sent = {one.finding.fault for one in result.plan.send_out}
    assert "solder_broken" in planned | sent


def test_damage_that_does_not_fit_the_part_takes_the_outcome_back_too(school, tech):
    job = make_job(school=school, actor=tech)
    damage = Damage(part="third_valve_slide", fault="pad_leak", severity="moderate")
    refused(
        RefusedError, do_step, job=job, step_key=next_step(job).key, outcome="damaged", actor=tech, at=LATER,
        nonce=new_nonce(), damage=damage,
    )  # fmt: skip


def test_something_found_on_the_bench_joins_the_plan(school, tech):
    job = make_job(school=school, actor=tech)
    part, fault, severity = LEAKING_CORK
    plan = add_finding_to_job(job=job, part=part, fault=fault, severity=severity, actor=tech, at=LATER)
    assert any(one.fault == fault for step in plan.steps for one in step.findings)


def test_a_finding_with_a_fault_of_another_role_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(
        RefusedError, add_finding_to_job, job=job, part="bell", fault="pad_leak", severity="light", actor=tech,
        at=LATER,
    )  # fmt: skip


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


@pytest.mark.django_db(transaction=True)
def test_two_who_take_the_same_horn_at_once_get_one_job(transactional_db):
    school = make_school()
    tech, other = (make_user(Role.TECH, school=school) for _ in range(2))
    horn, bench = make_ready_instrument(school=school), make_school_bench(school)
    answers = at_once(
        lambda: open_job(instrument=horn, bench=bench, actor=tech, at=LATER),
        lambda: open_job(instrument=horn, bench=bench, actor=other, at=LATER),
    )
    assert sorted(isinstance(answer, Job) for answer in answers) == [False, True]
    assert Job.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_the_same_form_posted_twice_at_once_is_one_attempt(transactional_db):
    job = make_job(school=make_school())
    step, nonce, tech = next_step(job), new_nonce(), job.opened_by

    def post():
        return do_step(job=job, step_key=step.key, outcome="freed", actor=tech, at=LATER, nonce=nonce)

    answers = at_once(post, post)
    assert sorted(answer.was_known for answer in answers) == [False, True]
    assert Attempt.objects.count() == 1
