"""How the day is planned from real jobs, students and clocks; tests/desk/pages/test_bench_day.py has what it says."""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import User
from desk.selectors.bench_day import planned_day
from repairs.models import Job, StepClock
from repairs.rules.day import plan_bench
from repairs.selectors.planning import plan_for_job
from tests.factories import NOW, TODAY, make_student
from tests.repairs.makers import LEAKING_CORK, STUCK, fresh, make_job


def plan_of(user, **overrides):
    return planned_day(user, **{"bench": None, "starts_at": NOW + timedelta(days=1), "hours": 4.0} | overrides)


def jobs_of(day):
    return {day.states[one.job.key].job for one in day.ranked}


@pytest.mark.parametrize("count", [1, 5])
def test_planning_takes_the_same_queries_however_many_jobs(school, tech, count):
    first = make_job(school=school)
    for _ in range(count - 1):
        make_job(school=school, findings=[LEAKING_CORK], bench=first.bench)
    make_student(school=school, wants_kind="trumpet")
    plan_of(tech)
    with CaptureQueriesContext(connection) as caught:
        plan_of(User.objects.get(pk=tech.pk))
    assert len(caught) == 12  # the keys of the jobs first, then their rows


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
