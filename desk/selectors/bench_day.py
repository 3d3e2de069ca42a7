"""The bench's day: which job next and why, what to do together, and a plan for so many hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import zip_longest
from typing import Any

from django.db.models import Case, Count, F, Value, When
from django.utils import timezone

from desk.selectors.waiting import students_waiting
from inventory.catalog.load import catalog
from inventory.models import Instrument, Whereabouts
from repairs.models import Bench, Job
from repairs.rules.day import (
    Batch,
    DayEntry,
    DayPlan,
    RankedJob,
    SetUp,
    batches,
    plan_day,
    rank_jobs,
    why_before,
)
from repairs.rules.open_jobs import DayStep, OpenJob
from repairs.rules.open_jobs import open_job as job_of_plan
from repairs.rules.waiting import NOBODY, Candidate, Share, share_students
from repairs.rules.words import clock_time, duration, in_ten
from repairs.selectors.demand import group_of
from repairs.selectors.planning import JobState, job_states

MOST_JOBS = 100  # planned at once: a day of one tech, or a morning's look at several benches
SHOWN_JOBS = 15  # before the fold; the template says the same number
LOOK_MINUTES = 2.0  # to see how it came out, once a wait is over


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job at its place, and the answer to "why this first?"."""

    place: int
    job: Job
    say: str  # the next step
    left: str  # hands-on time to go, on average
    students: int
    share: str  # where that number comes from
    why: str
    before_next: str  # this one against the one after it; "" for the last
    due: str
    is_late: bool
    is_late_risk: bool
    rests: str  # until when, or ""


@dataclass(frozen=True, slots=True)
class BatchRow:
    say: str
    jobs: tuple[Job, ...]
    apart: str
    together: str
    saved: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """One line of the day plan: so long on one step of one horn."""

    starts_at: datetime
    ends_at: datetime
    job: Job
    say: str
    rests: str  # until when, or ""
    why: str
    frees: str  # how often this try frees its part, or "" for what is no try
    only_if: str  # how often it comes to this further try, or "" for what is done anyway
    if_needed: str  # what the further try takes then: it counts here with its chance
    first: str  # what has to be done before the further try
    is_free: bool  # done with work that is planned anyway
    is_shared: bool  # goes on with the work of the line before, on another horn
    is_meanwhile: bool  # another horn of the day rests while this is done

    @property
    def is_moment(self) -> bool:
        """Whether it begins and ends within the same minute of the clock."""
        return self.ends_at - self.starts_at < timedelta(minutes=1) and self.starts_at.minute == self.ends_at.minute


@dataclass(frozen=True, slots=True)
class BenchDay:
    bench: Bench | None
    starts_at: datetime
    hours: float
    rows: tuple[JobRow, ...]
    batches: tuple[BatchRow, ...]
    stretches: tuple[Stretch, ...]
    used: str
    idle: str
    if_stuck: str  # how much more if no try frees its part, or ""
    saved: str  # "" where nothing was
    finished: tuple[Job, ...]
    overnight: tuple[Job, ...]
    students: int  # waiting in all, for what lies on this bench
    left_out: int  # open jobs due later than those planned

    @property
    def rows_more(self) -> int:
        """How many jobs come after the ones shown at once."""
        return len(self.rows) - SHOWN_JOBS

    @property
    def starts(self) -> str:
        return _clock(self.starts_at, at=self.starts_at)

    @property
    def late(self) -> tuple[JobRow, ...]:
        return tuple(row for row in self.rows if row.is_late or row.is_late_risk)


def bench_day(user: Any, *, bench: Bench | None, starts_at: datetime, hours: float) -> BenchDay:
    """Return the day of a bench, or of all the user's benches together. Ten queries, however many jobs.

    The students of a school are dealt out over all its instruments of that kind, whichever bench they are on. No more
    than MOST_JOBS are planned: those of the bench before others, then the first due.
    """
    jobs = Job.objects.visible_to(user).open()
    is_elsewhere = Case(When(bench=bench, then=0), default=1) if bench else Value(0)
    ordered = jobs.order_by(is_elsewhere, F("due_on").asc(nulls_last=True), "opened_at", "pk")
    chosen = list(ordered.for_table().select_related("clock")[:MOST_JOBS])
    states = {str(state.job.pk): state for state in job_states(chosen)}
    open_jobs = {key: _open_job(state, at=starts_at) for key, state in states.items()}
    shares = _shares(states, open_jobs, at=starts_at)
    mine = [
        replace(open_jobs[key], students=float(shares[key].students))
        for key, state in states.items()
        if bench is None or state.job.bench_id == bench.pk
    ]
    today = timezone.localdate(starts_at)
    ranked = rank_jobs(mine, today=today, bench_minutes_per_day=hours * 60.0)
    set_up = SetUp.of(catalog().settings)
    plan = plan_day(mine, hours=hours, today=today, set_up=set_up)
    rows = tuple(
        _row(one, states[one.job.key], after=after, share=shares[one.job.key], at=starts_at)
        for one, after in zip_longest(ranked, ranked[1:])
    )
    return BenchDay(
        bench=bench,
        starts_at=starts_at,
        hours=hours,
        rows=rows,
        batches=tuple(_batch(batch, states) for batch in batches(mine, set_up=set_up)),
        stretches=_stretches(plan, states, at=starts_at),
        used=duration(plan.minutes_used),
        idle=duration(plan.minutes_idle) if plan.minutes_idle >= 1 else "",
        if_stuck=duration(plan.minutes_if_stuck) if plan.minutes_if_stuck >= 1 else "",
        saved=duration(plan.minutes_saved) if plan.minutes_saved >= 1 else "",
        finished=tuple(states[key].job for key in plan.finished),
        overnight=tuple(states[key].job for key in plan.overnight),
        students=sum(row.students for row in rows),
        left_out=(jobs.filter(bench=bench) if bench else jobs).count() - len(mine),
    )


def _open_job(state: JobState, *, at: datetime) -> OpenJob:
    """The job as the day's rules take it; of a step that rests, only the look afterwards is left."""
    job = job_of_plan(
        key=str(state.job.pk),
        name=state.job.instrument.asset_number,
        plan=state.plan,
        students=0.0,
        due_on=state.job.due_on,
    )
    clock = state.clock
    if clock is None or clock.waits_until is None:
        return job
    done = sum(max(step.minutes - LOOK_MINUTES, 0.0) for step in job.steps if step.key == clock.step_key)
    steps = tuple(_rested(step) if step.key == clock.step_key else step for step in job.steps)
    rests = max((clock.waits_until - at) / timedelta(minutes=1), 0.0)
    return replace(job, steps=steps, minutes=max(job.minutes - done, LOOK_MINUTES), rests_minutes=rests)


def _rested(step: DayStep) -> DayStep:
    return replace(step, say=f"See how it came out: {step.say}", minutes=min(step.minutes, LOOK_MINUTES), wait_h=0.0)


def _shares(states: dict[str, JobState], jobs: dict[str, OpenJob], *, at: datetime) -> dict[str, Share]:
    """Deal the waiting students out. Two queries."""
    candidates = [
        Candidate(key=key, group=group_of(state.job.instrument), minutes=jobs[key].minutes)
        for key, state in states.items()
    ]
    groups = {one.group for one in candidates}
    schools, kinds = {school for school, _ in groups}, {kind for _, kind in groups}
    ready = (
        Instrument.objects.ready(today=timezone.localdate(at))
        .filter(whereabouts=Whereabouts.IN_STORE, school__in=schools, kind_code__in=kinds)
        .values_list("school_id", "kind_code")
        .annotate(count=Count("pk"))
        .order_by()
    )
    standing = {(school, kind): count for school, kind, count in ready}
    return dict.fromkeys(states, NOBODY) | share_students(candidates, waiting=students_waiting(groups), ready=standing)


def _row(one: RankedJob, state: JobState, *, after: RankedJob | None, share: Share, at: datetime) -> JobRow:
    step = state.plan.next_step
    job, clock = state.job, state.clock
    today = timezone.localdate(at)
    return JobRow(
        place=one.place,
        job=job,
        say=step.say if step else "Play it",
        left=duration(one.job.minutes),
        students=share.students,
        share=share_words(share, kind=job.instrument.kind.name),
        why=one.why,
        before_next=why_before(one, after) if after else "",
        due=f"{job.due_on:%b} {job.due_on.day}" if job.due_on else "",
        is_late=bool(job.due_on and job.due_on < today),
        is_late_risk=one.is_late_risk,
        rests=_clock(clock.waits_until, at=at) if clock and clock.waits_until and clock.waits_until > at else "",
    )


def share_words(share: Share, *, kind: str) -> str:
    """Say where the number of students put on a horn comes from."""
    if not share.waiting:
        return f"No student of its school waits for: {kind}."
    wait = "1 student of its school waits" if share.waiting == 1 else f"{share.waiting} students of its school wait"
    stand = f", {share.ready} could have one from store today" if share.ready else ""
    fewer = ", for horns are fewer than students" if share.students > 1 else ""
    return f"{wait} for: {kind}{stand}. A horn takes one student: {share.students} counted for this one{fewer}."


def _batch(batch: Batch, states: dict[str, JobState]) -> BatchRow:
    return BatchRow(
        say=batch.say.partition(" (")[0],
        jobs=tuple(states[key].job for key in batch.jobs),
        apart=duration(batch.minutes_apart),
        together=duration(batch.minutes_together),
        saved=duration(batch.minutes_saved),
    )


def _stretches(plan: DayPlan, states: dict[str, JobState], *, at: datetime) -> tuple[Stretch, ...]:
    return tuple(
        Stretch(
            starts_at=at + timedelta(minutes=entry.starts_at),
            ends_at=at + timedelta(minutes=entry.ends_at),
            job=states[entry.job].job,
            say=entry.say,
            rests=_rests(entry, at=at),
            why=entry.why,
            frees=in_ten(entry.frees) if entry.frees else "",
            only_if=in_ten(entry.chance) if entry.chance < 1 else "",
            if_needed=duration((entry.ends_at - entry.starts_at) / entry.chance) if entry.chance < 1 else "",
            first=", ".join(entry.first),
            is_free=entry.ends_at == entry.starts_at,
            is_shared=entry.why.startswith("same work"),
            is_meanwhile=_is_meanwhile(entry, plan.entries),
        )
        for entry in plan.entries
    )


def _clock(moment: datetime, *, at: datetime) -> str:
    return clock_time(timezone.localtime(moment), today=timezone.localdate(at))


def _rests(entry: DayEntry, *, at: datetime) -> str:
    if entry.rests_until <= entry.ends_at + 1:
        return ""
    return _clock(at + timedelta(minutes=entry.rests_until), at=at)


def _is_meanwhile(entry: DayEntry, entries: Sequence[DayEntry]) -> bool:
    """Whether another horn rests during this stretch because of what was done earlier in the day."""
    return any(other.job != entry.job and other.ends_at <= entry.starts_at < other.rests_until for other in entries)
