"""Promises of finished jobs, as they would have been made on the day each was opened."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.services.care import record_play_test
from repairs.models import Attempt, Job
from repairs.rules.effort import pert_mean
from repairs.rules.facts import Outcome
from repairs.selectors.planning import PROVING, plan_for_job
from repairs.selectors.promises import _Known, judged_jobs, past_promises
from tests.factories import NOW, make_inspection
from tests.repairs.makers import LEAKING_CORK, STUCK, do_next, fresh, make_job, work_to_the_proof

LATER = NOW + timedelta(hours=5)


def finished(school, *, minutes: int | None = 12, at: datetime = NOW + timedelta(hours=1), **overrides) -> Job:
    """A job on a leaking cork, worked to the proof and closed by its play test, every step timed."""
    job = make_job(school=school, findings=[LEAKING_CORK], at=at, **overrides)
    while (step := plan_for_job(fresh(job)).next_step) and step.method != PROVING:
        do_next(job, at=at + timedelta(minutes=1 + job.attempts.count()))
    Attempt.objects.filter(job=job).update(minutes=minutes)
    ended = at + timedelta(hours=2)
    test = record_play_test(instrument=job.instrument, result="pass", actor=job.opened_by, at=ended)
    Job.objects.filter(pk=job.pk).update(closed_at=ended, closed_by=job.opened_by, play_test=test)
    return fresh(job)


def test_the_truth_is_the_sum_of_what_was_recorded(school):
    job = finished(school)
    (promise,) = past_promises([job.pk])
    assert promise.truth == 12 * job.attempts.count()


def test_the_promise_is_the_plan_of_the_day_it_was_opened_less_the_play_test(school):
    open_one = make_job(school=school, findings=[LEAKING_CORK])
    plan = plan_for_job(fresh(open_one))
    proof = sum(pert_mean(step.minutes) for step in plan.steps if step.method == PROVING)
    assert proof > 0
    job = finished(school, bench=open_one.bench)
    (promise,) = past_promises([job.pk])
    rest = 1.0 - proof / plan.mean_minutes  # halves do not add up, shares nearly do
    assert promise.p50 == pytest.approx(plan.taken.attended_minutes.p50 * rest, rel=0.2)
    assert promise.p50 < promise.p80 < plan.taken.attended_minutes.p80


def test_what_was_learned_later_does_not_change_an_old_promise(school):
    first = finished(school)
    before = past_promises([first.pk])[0]
    for _ in range(6):
        finished(school, minutes=90, at=LATER + timedelta(days=1))
    after = past_promises([first.pk])[0]
    assert (after.p50, after.p80) == (before.p50, before.p80)
    last = finished(school, at=LATER + timedelta(days=2))
    assert past_promises([last.pk])[0].p50 > before.p50


def test_a_fault_found_during_the_job_was_not_promised(school):
    job = finished(school)
    plain = past_promises([job.pk])[0]
    other = make_job(school=school, findings=[LEAKING_CORK], bench=job.bench)
    make_inspection(
        instrument=other.instrument, findings=[LEAKING_CORK, STUCK], at=other.opened_at + timedelta(hours=1)
    )
    work_to_the_proof(other)
    (promise,) = past_promises([other.pk])
    assert promise.p50 == pytest.approx(plain.p50, rel=0.35)


def test_given_up_and_untimed_jobs_are_not_judged(school):
    judged = finished(school)
    finished(school, minutes=None)
    ended = make_job(school=school)
    do_next(ended, minutes=Decimal(5))
    Job.objects.filter(pk=ended.pk).update(closed_at=LATER, ended_because="no parts")
    make_job(school=school)
    assert judged_jobs(Job.objects.all()) == [judged.pk]


def test_what_was_tried_before_the_first_job_is_read_summed_up(school):
    """However many tries of one kind lie in the past, they are one line; only later ones stand by themselves."""
    for _ in range(3):
        do_next(make_job(school=school), Outcome.STILL_STUCK, minutes=Decimal(5))
    latest = max(Attempt.objects.values_list("ended_at", flat=True))
    known = _Known(since=latest, until=LATER)
    assert [one.count for one in known.tries_until(LATER)] == [3]
    assert [record.minutes for record in known.times_until(LATER)] == [5.0, 5.0, 5.0]
    early = _Known(since=latest - timedelta(days=9), until=LATER)
    assert [one.count for one in early.tries_until(LATER)] == [1, 1, 1]
    assert early.tries_until(latest - timedelta(days=1)) == []
