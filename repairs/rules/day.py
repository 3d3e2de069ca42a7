"""The bench's day: which job next, what to do while glue sets, and what to do on several instruments at once."""

from __future__ import annotations

import heapq
from bisect import insort
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from repairs.rules.open_jobs import UNLIKELY, DayStep, OpenJob

UNSHARED = frozenset({"play_test"})  # nothing is laid out for it that the next instrument could use


@dataclass(frozen=True, slots=True)
class RankedJob:
    """A job in the order, and when it should be done by bench time."""

    job: OpenJob
    done_after_minutes: float
    is_late_risk: bool


def rank_jobs(jobs: Iterable[OpenJob], *, today: date, bench_minutes_per_day: float = 240.0) -> tuple[RankedJob, ...]:
    """Return the jobs by weighted shortest processing time: most students per attended minute first.

    For one bench this order has the least total of students times the moment their instrument is done (Smith 1956).
    Jobs nobody waits for come last, the shortest first. A due date does not move a job: the order says which dates it
    would break, at so many attended minutes a day. Work that ends within the day of its due date is on time.
    """
    ranked, clock = [], 0.0
    for job in sorted(jobs, key=_rank):
        clock += job.minutes
        days = int(clock / bench_minutes_per_day)
        is_late = job.due_on is not None and (job.due_on - today).days < days
        ranked.append(RankedJob(job, clock, is_late))
    return tuple(ranked)


def _rank(job: OpenJob) -> tuple[float, float, str]:
    per_student = job.minutes / job.students if job.students > 0 else float("inf")
    return (per_student, job.minutes, job.key)


@dataclass(frozen=True, slots=True)
class SetUp:
    """Minutes of a step that are setting up and cleaning up, and the largest share of it that they count for."""

    minutes: float
    share: float

    @classmethod
    def of(cls, settings: Mapping[str, Decimal]) -> SetUp:
        return cls(minutes=float(settings["set_up_minutes"]), share=float(settings["set_up_share"]))


def setup_minutes(step: DayStep, *, set_up: SetUp) -> float:
    """Return the minutes of a step that are setting up and clearing away, saved when the next instrument follows at once."""
    if step.method in UNSHARED:
        return 0.0
    return min(set_up.minutes, set_up.share * step.minutes)


@dataclass(frozen=True, slots=True)
class TogetherMinutes:
    """Attended minutes of the same work on several instruments, apart and set up once."""

    apart: float
    saved: float

    @property
    def together(self) -> float:
        return self.apart - self.saved


@dataclass(frozen=True, slots=True)
class Batch:
    """One method over several instruments."""

    method: str
    say: str
    jobs: tuple[str, ...]
    minutes: TogetherMinutes


def batches(jobs: Iterable[OpenJob], *, set_up: SetUp, at_least: int = 2) -> tuple[Batch, ...]:
    """Return the methods that are ready on several instruments, the most minutes saved first."""
    ready: dict[str, dict[str, list[DayStep]]] = defaultdict(lambda: defaultdict(list))
    for job in jobs:
        open_keys = {step.key for step in job.steps}
        for step in job.steps:
            if step.method not in UNSHARED and not open_keys.intersection(step.after):
                ready[step.method][job.key].append(step)
    found = []
    for method, by_job in ready.items():
        if len(by_job) >= at_least:
            steps = [step for steps in by_job.values() for step in steps]
            apart = sum(step.minutes for step in steps)
            saved = sum(sorted(setup_minutes(step, set_up=set_up) for step in steps)[:-1])  # the longest is needed once
            found.append(Batch(method, steps[0].say, tuple(by_job), TogetherMinutes(apart, saved)))
    return tuple(sorted(found, key=lambda batch: (-batch.minutes.saved, batch.method)))


@dataclass(frozen=True, slots=True)
class DayEntry:
    """One stretch of attended work, in minutes from the start of the bench's day."""

    job: str
    step: DayStep
    starts_at: float
    ends_at: float
    rests_until: float  # when its wait is over
    is_set_up: bool  # by the same work on the instrument before


@dataclass(frozen=True, slots=True)
class DayPlan:
    entries: tuple[DayEntry, ...]
    minutes_used: float
    minutes_idle: float
    finished: tuple[str, ...]  # jobs done within the day
    minutes_saved: float  # by doing one method over several instruments
    overnight: tuple[str, ...]  # jobs that rest when the day ends; those that rested all day among them
    minutes_if_stuck: float  # more than the average if no try frees its part


def plan_day(jobs: Sequence[OpenJob], *, hours: float, set_up: SetUp) -> DayPlan:
    """Lay out a day of so many bench hours: jobs in order, and while one rests, the next one's work.

    After each step the same method on other instruments follows at once where it is ready there and the set-up it
    saves is worth more than the wait it costs the instrument in front. Steps are not cut: one that would run past the
    end is not begun.
    """
    ranked = sorted((job for job in jobs if job.steps), key=_rank)
    return _Day([_JobToday(job) for job in ranked], end=hours * 60.0, set_up=set_up).laid_out()


class _JobToday:
    """The state of one job while a day is laid out."""

    def __init__(self, job: OpenJob) -> None:
        self.job = job
        self.left = {step.key: step for step in job.steps}
        self.rested_at: dict[str, float] = {}  # when the wait of a done step is over

    def startable_at(self, step: DayStep) -> float | None:
        """Return when everything before a step is done and has rested, or None while something is left to do."""
        at = 0.0
        for first in step.after:
            if first in self.left:
                return None
            at = max(at, self.rested_at.get(first, 0.0))
        return at

    def next_step(self, *, clock: float) -> DayStep | None:
        """Return the first step in planned order that may be begun now."""
        for step in self.left.values():
            at = self.startable_at(step)
            if at is not None and at <= clock:
                return step
        return None

    def do(self, step: DayStep, *, until: float) -> None:
        del self.left[step.key]
        self.rested_at[step.key] = until + step.wait_h * 60.0

    @property
    def is_finished(self) -> bool:
        """Whether nothing is left, or only tries that are not likely to be needed."""
        return all(step.chance < UNLIKELY for step in self.left.values())

    def wakes_at(self) -> float:
        """Return when the next step may begin; 0 if none can by waiting alone."""
        times = [at for at in map(self.startable_at, self.left.values()) if at is not None]
        return min(times, default=0.0)


@dataclass(slots=True)
class _Day:
    """A day being laid out: an event simulation whose clock jumps to the next job that wakes when nothing can be done."""

    jobs: Sequence[_JobToday]  # in ranked order; a job is named by its place here
    end: float  # minutes
    set_up: SetUp
    clock: float = 0.0
    awake: list[int] = field(default_factory=list)  # sorted places
    resting: list[tuple[float, int]] = field(default_factory=list)  # heap of (wakes at, place)
    last: DayStep | None = None
    entries: list[DayEntry] = field(default_factory=list)
    finished: list[str] = field(default_factory=list)
    saved: float = 0.0
    if_stuck: float = 0.0
    with_method: dict[str, list[int]] = field(default_factory=dict)  # places of jobs that hold a step of the method

    def __post_init__(self) -> None:
        for place, one in enumerate(self.jobs):
            self._wait(place, until=one.job.rests_minutes)
            for method in dict.fromkeys(step.method for step in one.left.values()):
                self.with_method.setdefault(method, []).append(place)

    def _wait(self, place: int, *, until: float) -> None:
        if until > self.clock:
            heapq.heappush(self.resting, (until, place))
        else:
            insort(self.awake, place)

    def laid_out(self) -> DayPlan:
        while True:
            while self.resting and self.resting[0][0] <= self.clock:
                insort(self.awake, heapq.heappop(self.resting)[1])
            pick = self._same_again() or self._first_in_order()
            if pick is not None:
                self._work(*pick)
            elif self.resting and self.resting[0][0] < self.end:
                self.clock, self.last = self.resting[0][0], None
            else:
                return self._plan()

    def _same_again(self) -> tuple[int, DayStep, float] | None:
        """Take the method just done to the next instrument where it is ready, fits into the day and pays."""
        if self.last is None or self.last.method in UNSHARED:
            return None
        for place in self.with_method[self.last.method]:
            if place not in self.awake:
                continue
            step = self.jobs[place].next_step(clock=self.clock)
            if step is not None and step.method == self.last.method:
                saved = setup_minutes(step, set_up=self.set_up)
                if self.clock + step.minutes - saved <= self.end and self._pays(place, step, saved=saved):
                    return place, step, saved
        return None

    def _pays(self, place: int, step: DayStep, *, saved: float) -> bool:
        """Whether the saved set-up outweighs the wait of the students in front, weighed as the order weighs them.

        Those in front wait for the rest of the step; everybody who is awake gains what is saved.
        """
        if place == self.awake[0]:
            return True
        front = sum(self.jobs[one].job.students for one in self.awake if one < place)
        everybody = sum(self.jobs[one].job.students for one in self.awake)
        return (step.minutes - saved) * front <= saved * everybody

    def _first_in_order(self) -> tuple[int, DayStep, float] | None:
        """Take the next step of the first job in order that has one to begin now and time enough for it."""
        for place in self.awake:
            step = self.jobs[place].next_step(clock=self.clock)
            if step is not None and self.clock + step.minutes <= self.end:
                return place, step, 0.0
        return None

    def _work(self, place: int, step: DayStep, saved: float) -> None:
        """Do a step, with so many minutes of set-up saved; its job then rests, is awake or is finished."""
        one = self.jobs[place]
        self.awake.remove(place)
        is_same = self.last is not None and self.last.method == step.method
        is_set_up = is_same and setup_minutes(step, set_up=self.set_up) > 0
        start, self.clock = self.clock, self.clock + step.minutes - saved
        one.do(step, until=self.clock)
        self.entries.append(
            DayEntry(
                job=one.job.key,
                step=step,
                starts_at=start,
                ends_at=self.clock,
                rests_until=one.rested_at[step.key],
                is_set_up=is_set_up,
            )
        )
        self.saved += saved
        self.if_stuck += step.minutes_if_needed - step.minutes
        self.last = step
        if one.is_finished:
            self.finished.append(one.job.key)
        else:
            self._wait(place, until=one.wakes_at())

    def _plan(self) -> DayPlan:
        used = sum(entry.ends_at - entry.starts_at for entry in self.entries)
        return DayPlan(
            entries=tuple(self.entries),
            minutes_used=used,
            minutes_idle=max(self.end - used, 0.0),
            finished=tuple(self.finished),
            minutes_saved=self.saved,
            overnight=tuple(self.jobs[place].job.key for _, place in sorted(self.resting)),
            minutes_if_stuck=self.if_stuck,
        )
