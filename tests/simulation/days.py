"""Days of a bench drawn at random, and the best line of work by trying every one, to hold the planned day against."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, timedelta

from repairs.rules.day import plan_bench, setup_minutes
from repairs.rules.effort import SetUp
from repairs.rules.open_jobs import DayStep, OpenJob

TODAY = date(2026, 8, 3)
SET_UP = SetUp(minutes=6.0, share=0.4)
METHODS = ("cork", "oil", "pull", "bath", "dent", "play_test")
WAITS_H = (0.0, 0.0, 0.0, 0.25, 0.5, 1.0, 2.0, 8.0, 12.0)


def draw_day(generator: random.Random, *, most_steps: int = 3) -> tuple[list[OpenJob], float]:
    """Return 6 to 8 jobs and the hours of the bench: quick and long steps, some that rest, dates tight and loose."""
    jobs = []
    for number in range(generator.randrange(6, 9)):
        steps: list[DayStep] = []
        for place in range(generator.randrange(1, most_steps + 1)):
            last = steps[-1].key if steps else ""
            steps.append(
                DayStep(
                    key=str(place), method=generator.choice(METHODS), say="work",
                    minutes=float(generator.choice((3, 5, 8, 10, 12, 15, 20, 30, 45, 60))),
                    wait_h=generator.choice(WAITS_H), after=(last,) if last else (),
                )
            )  # fmt: skip
        due = TODAY + timedelta(days=generator.randrange(4)) if generator.random() < 0.5 else None
        jobs.append(
            OpenJob(
                key=str(number), name=str(number), minutes=sum(step.minutes for step in steps),
                students=float(generator.choice((0, 0, 1, 1, 2, 3, 5, 8))), due_on=due, steps=tuple(steps),
                rests_minutes=generator.choice((0.0, 0.0, 0.0, 7.0, 30.0, 90.0)),
            )
        )  # fmt: skip
    return jobs, generator.choice((1.5, 2.0, 3.0, 4.0, 6.0))


@dataclass(frozen=True, slots=True)
class Best:
    """The fewest jobs late that need not be, and with so many the least students times minutes."""

    late: int
    waiting: float


@dataclass(frozen=True, slots=True)
class _Label:
    """A way to have come so far: done are the first so many steps of each job."""

    clock: float
    last: str
    ready: tuple[float, ...]
    late: int
    waiting: float


def best_line(jobs: list[OpenJob], *, hours: float, bound: Best | None = None) -> Best | None:
    """Return the best of all lines of work, by extending every one that no other beats in every respect.

    Each job's steps are done one after another. ``bound`` leaves out what is no better; None if nothing is better.
    """
    day = hours * 60.0
    period = max(day, 1440.0)
    due = [None if job.due_on is None else (job.due_on - TODAY).days for job in jobs]
    alone = [_alone(job, day=day) for job in jobs]
    due = [last if last is not None and alone[n] <= last * period + day + 1e-6 else None for n, last in enumerate(due)]
    start = _Label(0.0, "", tuple(job.rests_minutes for job in jobs), 0, 0.0)
    layer: dict[tuple[int, ...], list[_Label]] = {(0,) * len(jobs): [start]}
    for _ in range(sum(len(job.steps) for job in jobs)):
        grown: dict[tuple[int, ...], list[_Label]] = {}
        for done, labels in layer.items():
            for number, job in enumerate(jobs):
                if done[number] == len(job.steps):
                    continue
                step = job.steps[done[number]]
                after = (*done[:number], done[number] + 1, *done[number + 1 :])
                for label in labels:
                    one = _extended(label, job, step, number, day=day, period=period, due=due[number],
                                    is_last=after[number] == len(job.steps))  # fmt: skip
                    if bound is not None and not _may_beat(one, after, jobs, due, bound, day=day, period=period):
                        continue
                    _keep(grown.setdefault(after, []), one, methods=_methods_left(jobs, after))
        layer = grown
    ends = [Best(label.late, label.waiting) for labels in layer.values() for label in labels]
    return min(ends, key=lambda one: (one.late, one.waiting), default=None)


def _methods_left(jobs: list[OpenJob], done: tuple[int, ...]) -> set[str]:
    return {step.method for job, count in zip(jobs, done, strict=True) for step in job.steps[count:]}


def _alone(job: OpenJob, *, day: float) -> float:
    label = _Label(0.0, "", (job.rests_minutes,), 0, 0.0)
    for step in job.steps:
        label = _extended(label, job, step, 0, day=day, period=max(day, 1440.0), due=None, is_last=False)
    return label.clock


def _extended(
    label: _Label,
    job: OpenJob,
    step: DayStep,
    number: int,
    *,
    day: float,
    period: float,
    due: int | None,
    is_last: bool,
) -> _Label:
    start, minutes = label.clock, step.minutes
    if label.ready[number] > start:
        start = label.ready[number]
    elif label.last == step.method:
        minutes -= setup_minutes(step, set_up=SET_UP)
    morning = start // period * period
    if start + minutes > morning + day + 1e-6:
        start, minutes = morning + period, step.minutes
    end = start + minutes
    ready = [max(one, end) for one in label.ready]
    ready[number] = end if is_last else end + step.wait_h * 60.0
    late, waiting = label.late, label.waiting
    if is_last:
        waiting += job.students * _bench_time(end, day=day, period=period)
        late += due is not None and end > due * period + day + 1e-6
    return _Label(end, step.method, tuple(ready), late, waiting)


def _bench_time(moment: float, *, day: float, period: float) -> float:
    return moment // period * day + min(moment % period, day)


def _may_beat(
    one: _Label,
    done: tuple[int, ...],
    jobs: list[OpenJob],
    due: list[int | None],
    bound: Best,
    *,
    day: float,
    period: float,
) -> bool:
    """Whether a line begun like this can still be better, were nothing set up again, all awake and no night between."""
    late, waiting, left = one.late, one.waiting, []
    for number, (job, count) in enumerate(zip(jobs, done, strict=True)):
        if count < len(job.steps):
            rest = job.steps[count:]
            work = sum(step.minutes - setup_minutes(step, set_up=SET_UP) for step in rest)
            least = one.ready[number] + work + sum(step.wait_h for step in rest[:-1]) * 60.0
            latest = due[number]
            late += latest is not None and least > latest * period + day + 1e-6
            left.append((work / job.students if job.students else float("inf"), work, job.students, least))
    smith, clock = 0.0, _bench_time(one.clock, day=day, period=period)
    for _, work, students, _ in sorted(left):
        clock += work
        smith += students * clock
    waiting += max(smith, sum(students * _bench_time(least, day=day, period=period) for _, _, students, least in left))
    return (late, waiting) < (bound.late, bound.waiting - 1e-6)


def _keep(labels: list[_Label], one: _Label, *, methods: set[str]) -> None:
    """Add a label unless another is as good in every respect; drop those that it beats."""
    if any(_beats(other, one, methods) for other in labels):
        return
    labels[:] = [other for other in labels if not _beats(one, other, methods)]
    labels.append(one)


def _beats(one: _Label, other: _Label, methods: set[str]) -> bool:
    """Whether a label is at least as good. Coming later with a set-up laid out can be better than coming sooner."""
    if one.late > other.late or one.waiting > other.waiting + 1e-9 or one.clock > other.clock:
        return False
    if other.last in methods and (one.last != other.last or one.clock != other.clock):
        return False
    return all(mine <= theirs for mine, theirs in zip(one.ready, other.ready, strict=True))


@dataclass(frozen=True, slots=True)
class Gap:
    """The planned day against the best: jobs late that need not be, and how much longer students wait."""

    late: int
    share: float


def gap_of(jobs: list[OpenJob], *, hours: float) -> Gap:
    planned = _planned(jobs, hours=hours)
    best = best_line(jobs, hours=hours, bound=planned) or planned
    share = planned.waiting / best.waiting - 1.0 if planned.late == best.late and best.waiting else 0.0
    return Gap(late=planned.late - best.late, share=share)


def late_in_vain(jobs: list[OpenJob], *, hours: float) -> int:
    """Return how many fewer jobs could be late, whatever the wait."""
    late = _planned(jobs, hours=hours).late
    best = best_line(jobs, hours=hours, bound=Best(late, 0.0)) if late else None
    return late - best.late if best else 0


def _planned(jobs: list[OpenJob], *, hours: float) -> Best:
    ranked = plan_bench(jobs, today=TODAY, hours=hours, set_up=SET_UP).ranked
    return Best(
        late=sum(one.is_late_risk and _can_be_kept(one.job, day=hours * 60.0) for one in ranked),
        waiting=sum(one.job.students * one.done_after_minutes for one in ranked),
    )


def _can_be_kept(job: OpenJob, *, day: float) -> bool:
    last = (job.due_on - TODAY).days if job.due_on is not None else -1
    return _alone(job, day=day) <= last * max(day, 1440.0) + day + 1e-6
