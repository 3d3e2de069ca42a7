"""The bench's day: which job next, what to do while glue sets, and what to do on several instruments at once."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from repairs.rules.effort import SetUp
from repairs.rules.open_jobs import UNLIKELY, DayStep, OpenJob
from repairs.rules.sequence import TOLERANCE, Bench, Piece, Stretch, Wanted, arrange

UNSHARED = frozenset({"play_test"})  # nothing is laid out for it that the next instrument could use


@dataclass(frozen=True, slots=True)
class RankedJob:
    """A job in the order, and when it should be done by bench time."""

    job: OpenJob
    done_after_minutes: float  # of the bench's time, what it stands idle included
    is_late_risk: bool


def setup_minutes(step: DayStep, *, set_up: SetUp) -> float:
    """Return the set-up and clearing away of a step in minutes: saved when the next instrument follows at once."""
    if step.method in UNSHARED:
        return 0.0
    return set_up.within(step.minutes)


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


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """All jobs in the order in which they are begun, and the first day of that work."""

    ranked: tuple[RankedJob, ...]
    day: DayPlan


def plan_bench(jobs: Sequence[OpenJob], *, today: date | None, hours: float, set_up: SetUp) -> BenchPlan:
    """Plan the work of so many bench hours a day until all is done; the first day is laid out in full.

    First as few jobs as possible are late that need not be, then students wait as little as possible: the sum over jobs
    of students times the time until the instrument is done, by the clock. So with no dates and no waits the order is
    that of Smith (1956), most students per attended minute first. A job whose date could not be kept even alone has no
    claim by it. A long step does not begin right before an instrument wakes that more wait for. The same work on
    several instruments is done at once where that pays. Steps are not cut: one that would run past the end of a day is
    not begun; only a job without steps goes on the next morning. Work that ends within the day of its date is on time;
    without ``today`` no date counts.
    """
    work = _Work(jobs, day=hours * 60.0, set_up=set_up, today=today)
    return BenchPlan(ranked=work.ranked(), day=work.first_day())


class _Work:
    """Jobs as pieces of work, arranged and laid out."""

    def __init__(self, jobs: Sequence[OpenJob], *, day: float, set_up: SetUp, today: date | None) -> None:
        self.jobs = jobs
        self.steps: list[DayStep | None] = []  # of each piece; None for a job without steps
        pieces: list[Piece] = []
        for number, job in enumerate(jobs):
            own = _pieces(job, number, start=len(pieces), set_up=set_up)
            pieces += own
            self.steps += job.steps or [None]
        self.due = [None if today is None or job.due_on is None else (job.due_on - today).days for job in jobs]
        wanted = [
            Wanted(students=job.students, rests=job.rests_minutes, last_day=due)
            for job, due in zip(jobs, self.due, strict=True)
        ]
        self.bench = Bench(pieces, wanted, day)
        line = self._needed(arrange(self.bench))
        self.stretches, self.ends = list(self.bench.laid_out(line)), self.bench.ends(line)

    def _needed(self, line: Sequence[int]) -> list[int]:
        """Return the line without tries that nobody expects, where they come after all else of their job."""
        left = Counter(piece.job for piece in self.bench.pieces if piece.is_counted)
        found = []
        for number in line:
            piece = self.bench.pieces[number]
            if left[piece.job]:
                found.append(number)
                left[piece.job] -= piece.is_counted
        return found

    def ranked(self) -> tuple[RankedJob, ...]:
        begins: dict[int, float] = {}
        for one in self.stretches:
            begins.setdefault(self.bench.pieces[one.piece].job, one.starts_at)
        order = sorted(range(len(self.jobs)), key=lambda job: (begins.get(job, math.inf), self.ends[job]))
        return tuple(
            RankedJob(
                job=self.jobs[job],
                done_after_minutes=self.bench.bench_minutes(self.ends[job]),
                is_late_risk=(due := self.due[job]) is not None and self.bench.day_of(self.ends[job]) > due,
            )
            for job in order
        )

    def first_day(self) -> DayPlan:
        """Return the stretches that end within the first day."""
        day = self.bench.day
        today = [one for one in self.stretches if one.ends_at <= day + TOLERANCE]
        entries = tuple(entry for one in today if (entry := self._entry(one)) is not None)
        used = sum(entry.ends_at - entry.starts_at for entry in entries)
        finished = {
            job: self.ends[job] for job, one in enumerate(self.jobs) if one.steps and self.ends[job] <= day + TOLERANCE
        }
        return DayPlan(
            entries=entries,
            minutes_used=used,
            minutes_idle=max(day - used, 0.0),
            finished=tuple(self.jobs[job].key for job in sorted(finished, key=lambda job: (finished[job], job))),
            minutes_saved=sum(one.saved for one in today),
            overnight=tuple(self.jobs[job].key for _, job in sorted(self._resting(today)) if job not in finished),
            minutes_if_stuck=sum(entry.step.minutes_if_needed - entry.step.minutes for entry in entries),
        )

    def _entry(self, one: Stretch) -> DayEntry | None:
        piece, step = self.bench.pieces[one.piece], self.steps[one.piece]
        if step is None:
            return None
        return DayEntry(
            job=self.jobs[piece.job].key,
            step=step,
            starts_at=one.starts_at,
            ends_at=one.ends_at,
            rests_until=one.ends_at + piece.rest,
            is_set_up=one.saved > 0,
        )

    def _resting(self, today: Sequence[Stretch]) -> Iterator[tuple[float, int]]:
        """Yield the jobs that only time brings further when the day ends, and when they are ready again."""
        ready = {one.piece: one.ends_at + self.bench.pieces[one.piece].rest for one in today}
        for job, numbers in enumerate(self.bench.of_job):
            left = {number: self.bench.pieces[number].before for number in numbers if number not in ready}
            able = [
                max((ready[first] for first in before), default=self.jobs[job].rests_minutes)
                for before in left.values()
                if not left.keys() & set(before)
            ]
            if able and min(able) > self.bench.day:
                yield min(able), job


def _pieces(job: OpenJob, number: int, *, start: int, set_up: SetUp) -> list[Piece]:
    """Return the steps of a job as pieces, the first of them at place ``start``."""
    if not job.steps:
        return [Piece(number, job.minutes, is_divisible=True)]
    place = {step.key: start + at for at, step in enumerate(job.steps)}
    before = {place[step.key]: {place[key] for key in step.after if key in place} for step in job.steps}
    is_expected = any(step.chance >= UNLIKELY for step in job.steps)
    _take_on_the_way(job, before, start=start)
    return [
        Piece(
            job=number,
            minutes=step.minutes,
            rest=step.wait_h * 60.0,
            before=tuple(sorted(before[place[step.key]])),
            method=step.method if step.method not in UNSHARED else "",
            saved=setup_minutes(step, set_up=set_up),
            is_counted=step.chance >= UNLIKELY or not is_expected,
        )
        for step in job.steps
    ]


def _take_on_the_way(job: OpenJob, before: dict[int, set[int]], *, start: int) -> None:
    """Let the steps after a try that nobody expects wait for it where it can follow at once: it may still be needed."""
    for at, step in enumerate(job.steps):
        number = start + at
        if step.chance >= UNLIKELY or any(job.steps[first - start].wait_h for first in before[number]):
            continue
        needs, stack = set[int](), list(before[number])
        while stack:
            first = stack.pop()
            if first not in needs:
                needs.add(first)
                stack += before[first]
        for later in range(number + 1, start + len(job.steps)):
            if later not in needs:
                before[later].add(number)
