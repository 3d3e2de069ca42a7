"""How the day is planned from real jobs, students and clocks; tests/desk/pages/test_bench_day.py has what it says."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import lru_cache

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import User
from desk.selectors.bench_day import planned_day
from repairs.models import Job, StepClock, StockItem
from repairs.rules.day import plan_bench
from repairs.rules.shopping import reserved
from repairs.selectors.planning import job_state, plan_for_job
from repairs.selectors.stock import needs_in, needs_of, shopping_for
from repairs.services.stock import receive_stock, retire_stock_item
from tests.factories import NOW, TODAY, make_student, new_nonce
from tests.repairs.makers import LEAKING_CORK, STUCK, fresh, make_job
from tests.repairs.money_makers import make_decision, make_item, make_refusal


def plan_of(user, **overrides):
    return planned_day(user, **{"bench": None, "starts_at": NOW + timedelta(days=1), "hours": 4.0} | overrides)


def jobs_of(day):
    return {day.states[one.job.key].job for one in day.ranked}


@pytest.mark.parametrize("count", [1, 5])
def test_planning_takes_the_same_queries_however_many_jobs(school, tech, count):
    first = make_job(school=school, findings=[LEAKING_CORK])
    for _ in range(count - 1):
        make_job(school=school, findings=[LEAKING_CORK], bench=first.bench)
    make_student(school=school, wants_kind="trumpet")
    plan_of(tech)
    with CaptureQueriesContext(connection) as caught:
        plan_of(User.objects.get(pk=tech.pk))
    # The keys of the jobs first, then their rows; what could go out is counted only where somebody waits.
    assert len(caught) == 14


def test_no_more_than_so_many_jobs_are_planned_those_due_first(school, tech, monkeypatch):
    monkeypatch.setattr("desk.selectors.bench_day.MOST_JOBS", 2)
    late, soon = (make_job(school=school, due_on=TODAY + timedelta(days=days)) for days in (9, 1))
    undated = make_job(school=school)
    day = plan_of(tech, hours=2.0)
    assert jobs_of(day) == {soon, late}
    assert day.left_out == 1
    own = plan_of(tech, bench=undated.bench, hours=2.0)
    assert (jobs_of(own), own.left_out) == ({undated}, 0), "the bench asked for comes first"


def test_while_one_part_rests_the_job_goes_on_and_its_check_comes_when_the_wait_is_over(school, tech):
    job = make_job(school=school, findings=[STUCK, ("main_tuning_slide", "slide_seized", "severe")])
    first = next(step for step in plan_for_job(fresh(job)).steps if step.rung and not step.waits_on)
    start = NOW + timedelta(days=1)
    StepClock.objects.create(
        job=job, step_key=first.key, started_at=start, waiting_since=start, actor=tech,
        waits_until=start + timedelta(minutes=90),
    )  # fmt: skip
    entries = plan_of(tech).plan.entries
    check = next(one for one in entries if one.step.key == first.key)
    assert check.starts_at >= 90
    assert entries[0].step.key != first.key
    assert all(one.step.minutes for one in entries)


def test_a_day_is_arranged_once_until_its_work_changes(school, tech, monkeypatch):
    arranged = []
    whole = lru_cache(lambda jobs, **rest: arranged.append(jobs) or plan_bench(jobs, **rest))
    monkeypatch.setattr("desk.selectors.bench_day._arranged", whole)
    job = make_job(school=school)
    assert plan_of(tech).plan == plan_of(tech).plan
    assert len(arranged) == 1
    Job.objects.filter(pk=job.pk).update(due_on=TODAY + timedelta(days=2))
    plan_of(tech)
    assert len(arranged) == 2


def key_of(job):
    return str(job.pk)


def needs_by_code(job):
    return reserved(needs_in(job_state(fresh(job))))


def test_a_job_whose_part_is_kept_for_one_before_it_waits_and_is_in_no_plan(school, tech):
    first = make_job(school=school, findings=[LEAKING_CORK], due_on=TODAY + timedelta(days=1))
    second = make_job(school=school, findings=[LEAKING_CORK], bench=first.bench)
    make_student(school=school, wants_kind="trumpet")
    everything = plan_of(tech)
    assert (everything.waits, len(everything.ranked)) == ((), 2), "what the bench keeps no record of is passed over"
    one, much = "water_key_corks", needs_by_code(first)["water_key_corks"]
    item = make_item(bench=first.bench, code=one, quantity=str(much * Decimal("1.5")))
    day = plan_of(tech, hours=8.0)
    (able,), (wait,) = day.ranked, day.waits
    order = [ranked.job.key for ranked in everything.ranked]
    assert [able.job.key, wait.job.key] == order
    assert [(thing.key, lack) for thing, lack in wait.lacks] == [(one, much / 2)]
    assert {entry.job for entry in day.plan.entries} == {able.job.key} == set(day.plan.finished)
    assert not day.batches
    assert day.left_out == 0
    receive_stock(item=item, quantity=Decimal(1), nonce=new_nonce(), actor=tech, at=NOW)
    assert (plan_of(tech).waits, len(plan_of(tech).ranked)) == ((), 2)
    assert {key_of(first), key_of(second)} == set(order)


def test_the_rest_is_planned_as_if_the_job_that_waits_were_not_there(school, tech):
    jobs = [make_job(school=school, findings=[LEAKING_CORK])]
    jobs += [make_job(school=school, findings=[found], bench=jobs[0].bench) for found in (STUCK, LEAKING_CORK)]
    make_item(bench=jobs[0].bench, code="water_key_corks")
    day = plan_of(tech)
    waiting = {one.job.key for one in day.waits}
    assert waiting
    Job.objects.filter(pk__in=waiting).update(closed_at=NOW, ended_because="sold")
    assert plan_of(tech).plan == day.plan


def test_each_bench_has_its_own_stock_and_a_retired_item_keeps_nobody_waiting(school, tech):
    here, there = (make_job(school=school, findings=[LEAKING_CORK]) for _ in range(2))
    item = make_item(bench=here.bench, code="water_key_corks")
    make_item(bench=there.bench, code="water_key_corks", quantity="9")
    assert [one.job.key for one in plan_of(tech).waits] == [key_of(here)]
    assert not plan_of(tech, bench=there.bench).waits
    retire_stock_item(item=item, actor=tech, at=NOW)
    assert not plan_of(tech).waits


def test_plan_and_shopping_list_say_the_same_of_every_part(school, tech):
    first = make_job(school=school, findings=[LEAKING_CORK])
    jobs = [
        first,
        *(
            make_job(school=school, findings=[found], bench=first.bench)
            for found in (LEAKING_CORK, STUCK, LEAKING_CORK)
        ),
    ]
    for code, much in reserved(needs_of(jobs)).items():
        make_item(bench=first.bench, code=code, quantity=str((much / 2).quantize(Decimal("0.001"))))
    day = plan_of(tech)
    taken = reserved(need for one in day.ranked for need in needs_in(day.states[one.job.key]))
    stock = dict(StockItem.objects.values_list("code", "quantity"))
    assert all(much <= stock[code] for code, much in taken.items())
    shopping = shopping_for(first.bench, jobs=9, at=NOW).list
    short = {line.item.key for line in shopping.lines if line.is_short}
    assert {thing.key for one in day.waits for thing, _ in one.lacks} == short != set()


def test_a_job_whose_repair_was_not_approved_is_in_no_plan_and_takes_no_part(school, tech):
    refused = make_job(school=school, findings=[LEAKING_CORK], due_on=TODAY + timedelta(days=1))
    other = make_job(school=school, findings=[LEAKING_CORK], bench=refused.bench)
    code = "water_key_corks"
    make_item(bench=refused.bench, code=code, quantity=str(needs_by_code(other)[code]))
    assert [one.job.key for one in plan_of(tech).waits] == [key_of(other)]
    decision = make_refusal(instrument=refused.instrument, actor=tech)
    day = plan_of(tech)
    assert [(job.key, why) for job, why in day.refused] == [(key_of(refused), decision)]
    assert ([one.job.key for one in day.ranked], day.waits, day.left_out) == ([key_of(other)], (), 0)
    assert {entry.job for entry in day.plan.entries} == {key_of(other)}
    make_decision(refused.instrument, actor=tech, because="By hand")
    assert not plan_of(tech).refused, "a newer decision holds"


def test_what_was_begun_before_the_refusal_and_what_is_done_by_hand_stays_planned(school, tech):
    by_hand, job = make_job(school=school, findings=[STUCK]), make_job(school=school, findings=[LEAKING_CORK])
    make_refusal(instrument=by_hand.instrument, actor=tech)
    decision = make_refusal(instrument=job.instrument, actor=tech)
    (paid,) = (step for step in plan_for_job(fresh(job)).steps if any(need.middle for need in step.parts))
    clock = StepClock.objects.create(job=job, step_key=paid.key, started_at=NOW, actor=tech)
    assert jobs_of(plan_of(tech)) == {by_hand, job}
    StepClock.objects.filter(pk=clock.pk).update(started_at=NOW + timedelta(hours=2))
    assert jobs_of(plan_of(tech)) == {by_hand}
    assert [why for _, why in plan_of(tech).refused] == [decision]
