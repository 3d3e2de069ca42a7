"""The clock, outcomes of steps, what each does to the plan, and what no act on a job may be done without."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError, UsedFormError
from core.models import Event
from core.photos import clean_photo
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, Photo, Role
from inventory.rules.facts import Owed
from repairs.exceptions import CautionsFirstError, JobClosedError, StepRefusedError
from repairs.models import Attempt, CautionRead, StepClock, StockItem
from repairs.rules.facts import Outcome
from repairs.selectors.learning import times_of
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import (
    Damage,
    FreeUse,
    acknowledge_cautions,
    add_finding_to_job,
    ask_again,
    begin_wait,
    count_try,
    do_step,
    give_up_job,
    prove_job,
    start_step,
    stop_clock,
)
from tests.contests import at_once
from tests.factories import make_school, make_user, new_nonce
from tests.pictures import jpeg
from tests.repairs.makers import (
    LATER,
    LEAKING_CORK,
    do_next,
    fresh,
    make_job,
    next_step,
    read_cautions,
    refused,
    state_of_rows,
    work_to_the_proof,
)
from tests.repairs.money_makers import make_item


def test_a_freed_part_drops_the_harder_rungs_and_says_what_that_saves(school):
    job = make_job(school=school)
    result = do_next(job, Outcome.FREED)
    assert result.savings is not None
    assert result.savings.minutes > 0
    assert result.savings.rungs
    assert not any(step.rung for step in result.plan.steps)
    assert not Finding.objects.filter(instrument=job.instrument).standing().exists()


def test_what_a_reader_of_spanish_does_is_kept_in_the_stored_language(school):
    job = make_job(school=school)
    name = next_step(job).say
    with override("es"):
        do_next(job, Outcome.STILL_STUCK, picture=clean_photo(jpeg()))
    assert Event.objects.get(act="step_done").after["say"] == f"{name}: still stuck"
    assert Photo.objects.get().caption == name


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


def test_each_caution_is_read_once_in_a_job_by_each_person_who_does_such_work(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    step = next(one for one in plan_for_job(job).steps if one.acknowledgements)
    other = make_user(Role.TECH, school=school)
    for person in (tech, tech, other):
        acknowledge_cautions(job=job, step_key=step.key, actor=person, at=LATER)
    read = [(row.hazard, row.version, row.text, row.at) for row in CautionRead.objects.filter(actor=tech)]
    assert read == [(one.code, one.version, one.caution, LATER) for one in step.acknowledgements]
    assert CautionRead.objects.filter(actor=other).texts() == CautionRead.objects.filter(actor=tech).texts()
    shown = [{"hazard": one.code, "name": one.name, "version": one.version} for one in step.acknowledgements]
    assert [event.after["shown"] for event in Event.objects.filter(act="cautions_acknowledged")] == [shown, shown]


def test_a_hazard_that_was_not_shown_asks_anew_and_so_does_a_new_text(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    step = next(one for one in plan_for_job(job).steps if one.acknowledgements)
    asked = {"job": job, "step_key": step.key, "outcome": "done", "actor": tech, "at": LATER, "nonce": new_nonce()}
    acknowledge_cautions(job=job, step_key=step.key, actor=tech, at=LATER)
    for changed in ({"hazard": "torch_of_another_step"}, {"version": "of last year"}):
        one = CautionRead.objects.filter(job=job).latest("pk")
        before = {"hazard": one.hazard, "version": one.version}
        CautionRead.objects.filter(pk=one.pk).update(**changed)
        told = refused(CautionsFirstError, do_step, **asked)
        assert catalog().hazards[before["hazard"]].name in told
        CautionRead.objects.filter(pk=one.pk).update(**before)
    refused(CautionsFirstError, do_step, **asked | {"actor": make_user(Role.TECH, school=school)})
    assert do_step(**asked).attempt.outcome == Outcome.DONE


def test_a_later_rung_of_the_same_force_may_be_tried_first_and_the_passed_ones_stay(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, Outcome.STILL_STUCK)
    read_cautions(job, actor=tech)
    for _ in range(6):  # what the rungs need first
        step = next_step(job)
        if step.rung:
            break
        do_next(job, Outcome.DONE)
    ladder = plan_for_job(fresh(job)).ladders[0]
    other = next(
        (one for one in ladder.ahead[1:] if one.entry.force == ladder.ahead[0].entry.force and not one.first), None
    )
    assert other is not None
    after = do_step(
        job=job, step_key=other.step_key, outcome="still_stuck", actor=tech, at=LATER, nonce=new_nonce()
    ).plan
    states = {rung.step_key: rung.state.value for rung in after.ladders[0].rungs}
    assert states[other.step_key] == "tried"
    assert states[ladder.ahead[0].step_key] in {"next", "later"}


def test_a_form_of_one_job_is_no_form_of_another(school, tech):
    job, other = make_job(school=school, actor=tech), make_job(school=school, actor=tech)
    nonce = new_nonce()
    do_step(job=job, step_key=next_step(job).key, outcome="stopped", actor=tech, at=LATER, nonce=nonce)
    refused(
        UsedFormError, do_step, job=other, step_key=next_step(other).key, outcome="stopped", actor=tech, at=LATER,
        nonce=nonce,
    )  # fmt: skip


def test_a_part_outside_the_catalog_is_taken_from_the_drawer_and_costs_what_it_costs(school, tech):
    job = make_job(school=school, actor=tech)
    stop = make_item(bench=job.bench, name="Slide stop", quantity="3", price_amount=Decimal("2.25"))
    attempt = do_next(job, Outcome.STILL_STUCK, free_use=FreeUse(item=stop, quantity=Decimal(2))).attempt
    assert {"code": "", "item": stop.pk, "quantity": "2", "amount": "4.50"} in attempt.parts_used
    assert attempt.parts_amount >= Decimal("4.50")
    assert StockItem.objects.get(pk=stop.pk).quantity == 1


def test_a_part_of_another_bench_takes_the_outcome_back_too(school, tech):
    job = make_job(school=school, actor=tech)
    foreign = make_item(name="Slide stop", quantity="3")
    refused(
        RefusedError, do_step, job=job, step_key=next_step(job).key, outcome="stopped", actor=tech, at=LATER,
        nonce=new_nonce(), free_use=FreeUse(item=foreign, quantity=Decimal(1)),
    )  # fmt: skip
    assert StockItem.objects.get(pk=foreign.pk).quantity == 3


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


@pytest.mark.django_db(transaction=True)
def test_the_same_form_posted_twice_at_once_is_one_attempt(transactional_db):
    job = make_job(school=make_school())
    step, nonce, tech = next_step(job), new_nonce(), job.opened_by

    def post():
        return do_step(job=job, step_key=step.key, outcome="freed", actor=tech, at=LATER, nonce=nonce)

    answers = at_once(post, post)
    assert sorted(answer.was_known for answer in answers) == [False, True]
    assert Attempt.objects.count() == 1


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


def test_a_step_that_nobody_timed_counts_with_its_planned_minutes_and_says_so(school, tech):
    job = make_job(school=school, actor=tech)
    step = next_step(job)
    attempt = do_next(job, Outcome.STILL_STUCK).attempt
    assert attempt.minutes is None
    assert attempt.estimated_minutes == Decimal(str(step.minutes.likely)).quantize(Decimal("0.1")) > 0
    assert times_of(Attempt.objects.all()) == []  # nothing is learned from it


def test_a_step_that_was_timed_or_left_out_has_no_estimate(school, tech):
    job = make_job(school=school, actor=tech)
    assert do_next(job, Outcome.STILL_STUCK, minutes=Decimal(4)).attempt.estimated_minutes is None
    left_out = do_next(job, Outcome.SKIPPED).attempt
    assert (left_out.minutes, left_out.estimated_minutes) == (None, None)


def test_minutes_end_where_the_wait_begins(school, tech):
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    read_cautions(job, actor=tech)
    step = step_with_wait(job)
    start_step(job=job, step_key=step.key, actor=tech, at=LATER)
    clock = begin_wait(job=job, step_key=step.key, actor=tech, at=LATER + timedelta(minutes=9))
    assert clock.waits_until == LATER + timedelta(minutes=9) + timedelta(hours=float(step.wait_h))
    again = begin_wait(job=job, step_key=step.key, actor=tech, at=LATER + timedelta(minutes=30))
    assert again.waits_until == clock.waits_until
    result = do_step(job=job, step_key=step.key, outcome="done", actor=tech, at=clock.waits_until, nonce=new_nonce())
    assert result.attempt.minutes == Decimal("9.0")


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
    acknowledge_cautions(job=job, step_key=step.key, actor=tech, at=LATER)
    assert do_step(**asked).attempt.outcome == Outcome.DONE


def test_nothing_can_be_done_in_a_closed_job(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    give_up_job(job=job, because="Waits for money.", actor=tech, at=LATER)
    common = {"job": job, "actor": tech, "at": LATER}
    refused(JobClosedError, do_step, step_key=key, outcome="freed", nonce=new_nonce(), **common)
    refused(JobClosedError, start_step, step_key=key, **common)
    refused(JobClosedError, begin_wait, step_key=key, **common)
    refused(JobClosedError, stop_clock, step_key=key, **common)
    refused(JobClosedError, count_try, step_key=key, **common)
    refused(JobClosedError, acknowledge_cautions, step_key=key, **common)
    refused(JobClosedError, ask_again, step_key=key, **common)
    refused(JobClosedError, add_finding_to_job, part="case", fault="odor_mold", severity="light", **common)
    refused(JobClosedError, prove_job, result="pass", **common)
    refused(JobClosedError, give_up_job, because="Again.", **common)


def test_the_bath_of_a_job_is_the_full_cleaning_that_a_gift_owes(school):
    job = make_job(school=school, findings=[("leadpipe", "lime_scale", "moderate")])
    Instrument.objects.filter(pk=job.instrument_id).update(is_full_cleaning_due=True)
    while (step := next_step(job)) is not None and step.method != "soap_bath_brass":
        do_next(job)
        assert Owed.FULL in Instrument.objects.get(pk=job.instrument_id).owed
    assert step is not None
    do_next(job)
    assert Instrument.objects.get(pk=job.instrument_id).owed == frozenset()
