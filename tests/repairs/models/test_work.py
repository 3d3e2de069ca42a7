"""What the database itself refuses about jobs, attempts and clocks."""

from __future__ import annotations

from datetime import timedelta

from repairs.models import Attempt, Job, StepClock
from repairs.rules.facts import Outcome
from tests.database import refused
from tests.factories import NOW, make_school, new_nonce
from tests.repairs.makers import make_job, make_school_bench


def attempt(job, **overrides):
    fields = {
        "job": job, "nonce": new_nonce(), "step_key": "x:y", "method": "x", "outcome": "done", "ended_at": NOW,
        "actor": job.opened_by,
    }  # fmt: skip
    return Attempt(**(fields | overrides))


def test_an_instrument_has_one_open_job(school, tech):
    job = make_job(school=school, actor=tech)
    again = Job(instrument=job.instrument, bench=job.bench, opened_at=NOW, opened_by=tech)
    refused(again.save)


def test_a_job_closes_by_a_play_test_or_a_reason(school, tech):
    job = make_job(school=school, actor=tech)
    refused(lambda: Job.objects.filter(pk=job.pk).update(closed_at=NOW))
    Job.objects.filter(pk=job.pk).update(closed_at=NOW, ended_because="Waits for money.")


def test_one_form_is_one_attempt(school, tech):
    job = make_job(school=school, actor=tech)
    first = attempt(job)
    first.save()
    refused(attempt(job, nonce=first.nonce).save)


def test_an_attempt_cannot_end_before_it_began(school, tech):
    job = make_job(school=school, actor=tech)
    refused(attempt(job, started_at=NOW + timedelta(minutes=1)).save)


def test_a_step_has_one_clock_and_a_job_several(school, tech):
    job = make_job(school=school, actor=tech)
    for key in ("x", "y"):
        StepClock.objects.create(job=job, step_key=key, started_at=NOW, actor=tech)
    refused(StepClock(job=job, step_key="y", started_at=NOW, actor=tech).save)


def test_the_planner_is_told_the_plain_facts(school, tech):
    fact = attempt(make_job(school=school, actor=tech), outcome="damaged", minutes=4).fact
    assert (fact.outcome, fact.minutes) == (Outcome.DAMAGED, 4.0)
    bench = make_school_bench(school)
    assert bench.fact.tools == frozenset(bench.tools)


def test_jobs_and_benches_of_another_school_are_not_seen(school, tech):
    ours = make_job(school=school, actor=tech)
    make_job(school=make_school())
    assert list(Job.objects.visible_to(tech)) == [ours]
    assert list(type(ours.bench).objects.visible_to(tech)) == [ours.bench]
