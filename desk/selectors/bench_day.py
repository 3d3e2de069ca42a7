"""Plan the bench's day: rank the jobs, find work to do together, and fill so many hours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import Case, F, Value, When
from django.utils import timezone
from django.utils.translation import gettext

from desk.selectors.waiting import students_waiting
from inventory.catalog.load import catalog
from inventory.models import School, Whereabouts
from inventory.selectors.fleet import State, count_of, fleets_of, goes_with_limits, may_go_out
from repairs.models import Bench, Job, WorthDecision
from repairs.rules.day import Batch, DayPlan, RankedJob, batches, plan_bench
from repairs.rules.effort import SetUp
from repairs.rules.open_jobs import DayStep, OpenJob
from repairs.rules.open_jobs import open_job as job_of_plan
from repairs.rules.shopping import Held
from repairs.rules.waiting import NOBODY, Candidate, Share, share_students
from repairs.selectors.decisions import stopped_jobs
from repairs.selectors.demand import group_of
from repairs.selectors.planning import JobState, job_states
from repairs.selectors.stock import parts_lacking

MOST_JOBS = 100  # planned at once: a day of one tech, or a morning's look at several benches
A_MINUTE = timedelta(minutes=1)
REST = "rest:"  # begins the key of a wait that goes on while the job is worked on
LOOK_MINUTES = 2.0  # to check the result once a wait is over


@dataclass(frozen=True, slots=True)
class PartsWait:
    """A job that nobody can finish yet, with how much it lacks of what."""

    job: OpenJob
    lacks: tuple[tuple[Held, Decimal], ...]


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """The day as the rules plan it. Jobs, steps and batches name a job by its key, the key of ``states``."""

    bench: Bench | None
    starts_at: datetime
    hours: float
    states: dict[str, JobState]
    shares: dict[str, Share]  # waiting students counted for each job
    ranked: tuple[RankedJob, ...]
    batches: tuple[Batch, ...]
    plan: DayPlan
    left_out: int  # open jobs due later than those planned
    waits: tuple[PartsWait, ...]  # jobs for which something is not there: not planned until it is
    refused: tuple[tuple[OpenJob, WorthDecision], ...]  # jobs whose repair was not approved: nor are they

    @property
    def unplanned(self) -> tuple[OpenJob, ...]:
        """The open jobs that cannot be done now."""
        return (*(one.job for one in self.waits), *(job for job, _ in self.refused))


def planned_day(user: Any, *, bench: Bench | None, starts_at: datetime, hours: float) -> PlannedDay:
    """Plan the day of a bench, or of all the user's benches together. Thirteen queries, and one more past MOST_JOBS.

    The waiting students of a school are shared over all its instruments of that kind, whichever bench they are on. No
    more than MOST_JOBS are planned: those of the bench before others, then the first due. In the order of that plan
    each job takes its parts from the bench's stock; those that lack something are left out, and the rest is planned
    again. A job that a refusal stops is in no plan and takes no part.
    """
    jobs = Job.objects.visible_to(user).open()
    is_elsewhere = Case(When(bench=bench, then=0), default=1) if bench else Value(0)
    ordered = jobs.order_by(is_elsewhere, F("due_on").asc(nulls_last=True), "opened_at", "pk")
    keys = list(ordered.values_list("pk", flat=True)[:MOST_JOBS])
    planned = Job.objects.for_table().prefetch_related("clocks").in_bulk(keys)
    states = {str(state.job.pk): state for state in job_states([planned[pk] for pk in keys])}
    open_jobs = {key: _open_job(state, at=starts_at) for key, state in states.items()}
    shares = _shares(states, open_jobs, at=starts_at)
    here = [state for state in states.values() if bench is None or state.job.bench_id == bench.pk]
    stopped = stopped_jobs(here)
    every = [replace(open_jobs[key], students=float(shares[key].students)) for key in (str(one.job.pk) for one in here)]
    refused = tuple((job, stopped[int(job.key)]) for job in every if int(job.key) in stopped)
    mine = tuple(job for job in every if int(job.key) not in stopped)
    today = timezone.localdate(starts_at)
    set_up = SetUp.of(catalog().settings)
    plan = _arranged(mine, today=today, hours=hours, set_up=set_up)
    lacks = parts_lacking([states[one.job.key] for one in plan.ranked])
    waits = tuple(PartsWait(one.job, tuple(found)) for one in plan.ranked if (found := lacks.get(int(one.job.key))))
    if waits:
        mine = tuple(job for job in mine if int(job.key) not in lacks)
        plan = _arranged(mine, today=today, hours=hours, set_up=set_up)
    open_here = jobs.filter(bench=bench) if bench else jobs
    return PlannedDay(
        bench=bench,
        starts_at=starts_at,
        hours=hours,
        states=states,
        shares=shares,
        ranked=plan.ranked,
        batches=batches(mine, set_up=set_up),
        plan=replace(plan.day, entries=tuple(one for one in plan.day.entries if not one.step.key.startswith(REST))),
        left_out=open_here.count() - len(here) if len(keys) == MOST_JOBS else 0,
        waits=waits,
        refused=refused,
    )


# The search for a good line takes as long for five jobs as for a hundred, and a day is looked at again and again.
_arranged = lru_cache(maxsize=50)(plan_bench)


def _open_job(state: JobState, *, at: datetime) -> OpenJob:
    """The job as the rules take it. Of steps that rest, only the check afterwards is left."""
    job = job_of_plan(
        key=str(state.job.pk),
        name=state.job.instrument.asset_number,
        plan=state.plan,
        students=0.0,
        due_on=state.job.due_on,
    )
    rests = {one.step_key: max((one.waits_until - at) / A_MINUTE, 0.0) for one in state.resting if one.waits_until}
    if not rests:
        return job
    done = sum(max(step.minutes - LOOK_MINUTES, 0.0) for step in job.steps if step.key in rests)
    at_once = min(rests.values()) if state.is_waiting else 0.0
    steps = [
        one
        for step in job.steps
        for one in (_rested(step, for_minutes=rests[step.key] - at_once) if step.key in rests else (step,))
    ]
    minutes = max(job.minutes - done, LOOK_MINUTES)
    return replace(job, steps=tuple(steps), minutes=minutes, rests_minutes=at_once)


def _rested(step: DayStep, *, for_minutes: float) -> tuple[DayStep, ...]:
    """Return the check of a step that rests, after a wait without work where it rests longer than its job."""
    say = gettext("Check the result: %(step)s") % {"step": step.say}
    check = replace(step, say=say, minutes=min(step.minutes, LOOK_MINUTES), wait_h=0.0)
    if for_minutes <= 0.0:
        return (check,)
    wait = DayStep(key=f"{REST}{step.key}", method=f"{REST}{step.key}", say="", minutes=0.0, wait_h=for_minutes / 60.0)
    return (wait, replace(check, after=(*check.after, wait.key)))


def _is_ready_in_store(state: State) -> bool:
    return state.whereabouts == Whereabouts.IN_STORE and (may_go_out(state) or goes_with_limits(state))


def _shares(states: dict[str, JobState], jobs: dict[str, OpenJob], *, at: datetime) -> dict[str, Share]:
    """Share the waiting students over the jobs. Two queries, and two more to count a school again."""
    candidates = [
        Candidate(key=key, group=group_of(state.job.instrument), minutes=jobs[key].minutes)
        for key, state in states.items()
    ]
    groups = {one.group for one in candidates}
    schools = School.objects.filter(pk__in={school for school, _ in groups})
    fleets = fleets_of(schools, today=timezone.localdate(at))
    standing = {
        (school, kind): count_of(fleets[school].kinds[kind], _is_ready_in_store)
        for school, kind in groups
        if school in fleets and kind in fleets[school].kinds
    }
    return dict.fromkeys(states, NOBODY) | share_students(candidates, waiting=students_waiting(groups), ready=standing)
