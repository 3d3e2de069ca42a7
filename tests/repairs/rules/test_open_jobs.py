"""Jobs as the bench's day takes them: every try a stuck part may come to, with its chance."""

from __future__ import annotations

import random
from math import prod

import pytest

from inventory.catalog.load import catalog
from repairs.profiles import bench_profile
from repairs.rules.effort import SetUp, pert_mean
from repairs.rules.facts import Outcome
from repairs.rules.open_jobs import UNLIKELY, OpenJob, open_job
from repairs.rules.plan import Plan, RungState, plan_work
from tests.repairs.rules.halves import plan_day
from tests.repairs.rules.small_trade import attempt, finding, plan_of
from tests.simulation.drawing import draw_inspection, full_bench

SET_UP = SetUp.of(catalog().settings)


def job_of(plan: Plan) -> OpenJob:
    return open_job(key="T14", name="Trumpet 14", plan=plan, students=1)


def test_a_further_try_counts_with_the_chance_that_all_before_it_failed():
    plan = plan_of(finding("main_slide", "stuck"))
    ahead = [rung for rung in plan.ladders[0].ahead if rung.state is not RungState.OUTSIDE]
    steps = {step.key: step for step in job_of(plan).steps}
    assert len(ahead) > 2
    seen: dict[str, float] = {}  # what a try needs is done once
    for number, rung in enumerate(ahead):
        reach = prod(1 - before.p for before in ahead[:number])
        needed = {name: bill.minutes for name, bill in rung.first_takes if name not in seen}
        seen |= needed
        taken = pert_mean(rung.minutes) + sum(needed.values())
        step = steps[rung.step_key]
        assert step.chance == pytest.approx(reach)
        assert step.minutes == pytest.approx(reach * taken)
        assert step.minutes_if_needed == pytest.approx(taken)


def test_what_follows_waits_for_the_try_after_which_the_part_is_more_likely_free_than_not():
    plan = plan_of(finding("main_slide", "stuck"))
    job = job_of(plan)
    tries = [step for step in job.steps if step.frees]
    stuck = 1.0
    for likely in tries:
        stuck *= 1 - likely.frees
        if stuck <= UNLIKELY:
            break
    proof = next(step for step in job.steps if step.key == "play_test")
    assert likely.key in proof.after
    assert likely != tries[0]


def test_a_day_lays_the_tries_out_one_after_the_other_and_says_what_it_takes_if_none_frees_the_part():
    job = job_of(plan_of(finding("main_slide", "stuck")))
    found = plan_day([job], hours=100, set_up=SET_UP)
    tries = [entry for entry in found.entries if entry.step.frees]
    assert [entry.step.chance for entry in tries] == sorted((entry.step.chance for entry in tries), reverse=True)
    further = [
        step for step in job.steps if step.chance < 1 and step.key in {entry.step.key for entry in found.entries}
    ]
    assert found.minutes_if_stuck == pytest.approx(sum(step.minutes_if_needed - step.minutes for step in further))
    assert found.minutes_if_stuck > 0


def test_every_job_comes_to_its_end_in_order_and_its_steps_add_up_to_its_minutes():
    generator, kinds = random.Random("open jobs"), list(catalog().kinds.values())
    benches = [
        full_bench(catalog()),
        bench_profile("school", catalog=catalog()),
        bench_profile("basic", catalog=catalog()),
    ]
    for number in range(84):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=catalog(), generator=generator)
        plan = plan_work(kind=kind, catalog=catalog(), findings=findings, bench=benches[number % 3])
        job = job_of(plan)
        found = plan_day([job], hours=2000, set_up=SET_UP)
        assert found.finished == (job.key,)
        places = {entry.step.key: place for place, entry in enumerate(found.entries)}
        for step in job.steps:
            assert all(places[one] < places[step.key] for one in step.after if {one, step.key} <= set(places))
        if len(plan.ladders) < 2:  # what two ladders need alike counts once in the plan
            once = sum(step.set_up_minutes for step in plan.steps)  # the day takes it off where steps follow each other
            assert sum(step.minutes for step in job.steps) - once == pytest.approx(job.minutes)


def test_what_a_further_try_needs_does_not_wait_for_it():
    """Oil comes before the bath, and the torch, likely to free the slide, needs the bath: so the bath waits for the oil alone."""
    failed = [attempt(f"free_slide:main_slide::{rung}", Outcome.STILL_STUCK) for rung in ("hand", "soak")]
    steps = {
        step.key: step
        for step in job_of(plan_of(finding("main_slide", "stuck"), finding("brace", "loose"), attempts=failed)).steps
    }
    oil, torch = (f"free_slide:main_slide::{rung}" for rung in ("oil", "torch"))
    assert oil in steps["bath"].after
    assert torch not in steps["bath"].after
    assert "bath" in steps[torch].after


def test_a_job_does_not_rest_until_it_is_said_to():
    assert job_of(plan_of()).rests_minutes == 0
