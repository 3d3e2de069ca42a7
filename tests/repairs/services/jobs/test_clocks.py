"""Clocks that run and rest side by side, and the tries at one way."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from uuid import uuid4

from django.urls import reverse

from core.models import Event
from inventory.models import Finding
from repairs.exceptions import StepRefusedError
from repairs.models import Attempt, StepClock, StockMove
from repairs.rules.facts import Outcome
from repairs.selectors.planning import job_state, plan_for_job
from repairs.services.jobs import begin_wait, came_free_after_all, count_try, do_step, start_step, stop_clock
from repairs.services.jobs.clocks import take_step_tap
from tests.factories import new_nonce
from tests.repairs.makers import (
    LATER,
    LEAKING_CORK,
    do_next,
    fresh,
    make_job,
    next_step,
    read_cautions,
    refused,
)


def test_a_tap_that_a_phone_sends_twice_counts_once(school, tech):
    job = make_job(school=school, actor=tech)
    by = {"actor": tech, "at": LATER}
    act = partial(count_try, job=job, step_key=next_step(job).key, **by)
    key = uuid4()
    for _ in range(2):
        take_step_tap(job=job, key=key, act=act, **by)
    assert Event.objects.filter(act="tried_in_vain").count() == 1


def soaking_caps(school, tech):
    """A trumpet with all bottom caps stuck, and the steps at them that may be let to soak."""
    caps = [("bottom_valve_cap", "cap_stuck", "severe", number) for number in "123"]
    job = make_job(school=school, actor=tech, findings=caps)
    for _ in range(12):
        read_cautions(job, actor=tech)
        steps = [one for one in plan_for_job(fresh(job)).steps if one.rung and one.wait_h > 0 and not one.waits_on]
        if len(steps) == 3:
            return job, steps
        state = job_state(fresh(job))
        step = next(one for one in state.free_steps if not one.wait_h)
        outcome = "still_stuck" if step.rung else "done"
        do_step(job=job, step_key=step.key, outcome=outcome, actor=tech, at=LATER, nonce=new_nonce())
    raise AssertionError(steps)


def test_three_caps_soak_at_once_and_the_next_start_ends_none(school, tech):
    job, steps = soaking_caps(school, tech)
    for step in steps:
        begin_wait(job=job, step_key=step.key, actor=tech, at=LATER)
    assert {one.step_key for one in job_state(fresh(job)).resting} == {step.key for step in steps}
    do_step(job=job, step_key=steps[0].key, outcome="freed", actor=tech, at=LATER, nonce=new_nonce())
    assert {one.step_key for one in job_state(fresh(job)).resting} == {step.key for step in steps[1:]}


def test_one_tap_lets_all_caps_soak_and_shares_the_minutes_of_the_clock(school, tech):
    job, steps = soaking_caps(school, tech)
    keys, wait = [step.key for step in steps], timedelta(hours=float(steps[0].wait_h))
    start_step(job=job, step_key=keys[1], actor=tech, at=LATER)
    at = LATER + timedelta(minutes=9)
    begin_wait(job=job, step_key=keys[1], actor=tech, at=at, with_alike=True)
    assert dict(StepClock.objects.values_list("step_key", "waits_until")) == dict.fromkeys(keys, at + wait)
    soaked = {keys[0]: "freed", keys[2]: "still_stuck"}
    over = {"at": at + wait, "actor": tech, "job": job}
    before = Attempt.objects.count()
    done = do_step(step_key=keys[1], outcome="freed", nonce=new_nonce(), soaked=soaked, **over)
    tries = {one.step_key: one for one in Attempt.objects.order_by("pk")[before:]}
    assert {key: tries[key].outcome for key in keys} == {keys[0]: "freed", keys[1]: "freed", keys[2]: "still_stuck"}
    assert {(one.minutes, one.estimated_minutes) for one in tries.values()} == {(3, None)}
    assert all(one.parts_used == done.attempt.parts_used != [] for one in tries.values())
    assert (
        StockMove.objects.filter(attempt__in=tries.values()).count()
        == 3 * StockMove.objects.filter(attempt=done.attempt).count()
    )
    ends = {event.after["step"]: event.after["say"] for event in Event.objects.filter(act="step_done")}
    assert ends[keys[2]] == f"{steps[2].part_name}, {steps[2].say}: still stuck"
    assert not job_state(fresh(job)).resting
    stuck = Finding.objects.filter(instrument=job.instrument).standing().values_list("place", flat=True)
    assert list(stuck) == [steps[2].place]


def test_a_cap_that_rests_already_is_left_alone_and_no_other_way_soaks_with_it(school, tech):
    job, steps = soaking_caps(school, tech)
    begin_wait(job=job, step_key=steps[0].key, actor=tech, at=LATER)
    later = LATER + timedelta(hours=1)
    begin_wait(job=job, step_key=steps[1].key, actor=tech, at=later, with_alike=True)
    ends = dict(StepClock.objects.values_list("step_key", "waiting_since"))
    assert ends == {steps[0].key: LATER, steps[1].key: later, steps[2].key: later}
    refused(
        StepRefusedError, do_step, job=job, step_key=steps[1].key, outcome="freed", actor=tech, at=later,
        nonce=new_nonce(), soaked={"free_cap:bottom_valve_cap:1:taps": "freed"},
    )  # fmt: skip


def test_a_cap_that_somebody_is_at_is_not_promised_to_soak_with_the_others(client, school, tech):
    client.force_login(tech)
    job, steps = soaking_caps(school, tech)
    url = reverse("repairs:job", args=[job.pk])
    start_step(job=job, step_key=steps[0].key, actor=tech, at=LATER)
    assert "Let both sit for 8 h" in " ".join(client.get(f"{url}?step={steps[1].key}").text.split())
    client.post(reverse("repairs:wait", args=[job.pk]), {"step": steps[1].key, "with_alike": ""})
    assert {row.step_key for row in StepClock.objects.all() if row.waits_until} == {one.key for one in steps[1:]}


def test_a_cap_that_came_free_after_all_soaks_no_longer(school, tech):
    job, steps = soaking_caps(school, tech)
    given_up = next(iter(job_state(fresh(job)).given_up))
    spot = given_up.rpartition(":")[0]
    soaks = next(step for step in steps if step.key.startswith(f"{spot}:"))
    begin_wait(job=job, step_key=soaks.key, actor=tech, at=LATER)
    came_free_after_all(job=job, step_key=given_up, actor=tech, at=LATER + timedelta(hours=1))
    assert not StepClock.objects.filter(job=job).exists()


def test_the_page_lets_all_caps_soak_and_takes_their_ends_on_one_form(client, school, tech):
    client.force_login(tech)
    job, steps = soaking_caps(school, tech)
    url, (first, second, third) = reverse("repairs:job", args=[job.pk]), [step.key for step in steps]
    page = client.get(f"{url}?step={first}").text
    assert "Let all 3 sit for 8 h" in " ".join(page.split())
    assert "3 together, with one wait for all" in page
    assert "2 together" in page
    client.post(reverse("repairs:wait", args=[job.pk]), {"step": first, "with_alike": ""})
    assert StepClock.objects.filter(job=job, waits_until__isnull=False).count() == 3
    page = client.get(f"{url}?step={first}").text
    assert "The others that soaked with it" in page
    assert page.count("waiting until") + page.count("wait has been over") == 1
    sent = {"step": first, "nonce": str(new_nonce()), "outcome": "still_stuck", f"soaked_{third}": "freed"}
    for said in ("1 of 2 came free.", "already noted"):
        assert said in client.post(reverse("repairs:do-step", args=[job.pk]), sent, follow=True).text
    ends = Attempt.objects.filter(job=job, rung=steps[0].rung).values_list("step_key", "outcome")
    assert dict(ends) == {first: "still_stuck", third: "freed"}
    assert [one.step_key for one in job_state(fresh(job)).resting] == [second]


def test_a_look_at_what_soaks_counts_no_try_and_a_soak_that_is_over_begins_again(school, tech):
    job, steps = soaking_caps(school, tech)
    key, hours = steps[0].key, timedelta(hours=float(steps[0].wait_h))
    common = {"job": job, "step_key": key, "actor": tech}
    tries = Attempt.objects.count()
    begin_wait(at=LATER, **common)
    assert begin_wait(at=LATER + hours / 2, **common).waits_until == LATER + hours
    assert begin_wait(at=LATER + hours, **common).waits_until == LATER + 2 * hours
    assert StepClock.objects.get(step_key=key).waiting_since == LATER
    assert Attempt.objects.count() == tries
    assert fresh(job).step_tries == {}


def test_a_clock_that_runs_goes_on_when_it_is_started_again(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    for at in (LATER, LATER + timedelta(minutes=5)):
        assert start_step(job=job, step_key=key, actor=tech, at=at).started_at == LATER


def test_a_way_is_tried_twice_before_the_next_and_the_count_ends_with_it(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    assert count_try(job=job, step_key=key, actor=tech, at=LATER) == 1
    assert next_step(job).key == key
    assert fresh(job).step_tries == {key: 1}
    do_next(job, Outcome.STILL_STUCK)
    assert next_step(job).key != key
    assert fresh(job).step_tries == {}


def test_only_ways_to_free_a_part_are_counted(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    read_cautions(job, actor=tech)
    refused(StepRefusedError, count_try, job=job, step_key=next_step(job).key, actor=tech, at=LATER)


def test_a_step_without_a_wait_cannot_be_let_wait(school, tech):
    job = make_job(school=school, actor=tech)
    refused(StepRefusedError, begin_wait, job=job, step_key=next_step(job).key, actor=tech, at=LATER)


def test_a_start_by_mistake_is_taken_back(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    start_step(job=job, step_key=key, actor=tech, at=LATER)
    stop_clock(job=job, step_key=key, actor=tech, at=LATER)
    assert not StepClock.objects.exists()
    assert not Attempt.objects.exists()
