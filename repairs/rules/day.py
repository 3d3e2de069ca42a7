"""The bench's day: which job next, what to do while glue sets, and what to do on several horns at once."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from repairs.rules.open_jobs import UNLIKELY, DayStep, OpenJob

UNSHARED = frozenset({"play_test"})  # nothing is laid out for it that the next horn could use
ALREADY_SET_UP = "same work as the one before: already set up"


@dataclass(frozen=True, slots=True)
class RankedJob:
    """A job at its place in the order, when it should be done by bench time, and why it stands there."""

    job: OpenJob
    place: int
    done_after_minutes: float
    is_late_risk: bool
    why: str


@dataclass(frozen=True, slots=True)
class Batch:
    """One method over several horns: set up once."""

    method: str
    say: str
    jobs: tuple[str, ...]
    minutes_apart: float
    minutes_together: float

    @property
    def minutes_saved(self) -> float:
        return self.minutes_apart - self.minutes_together


@dataclass(frozen=True, slots=True)
class DayEntry:
    """One stretch of attended work, in minutes from the start of the bench's day."""

    starts_at: float
    ends_at: float
    job: str
    step: str
    say: str
    rests_until: float  # when its wait is over
    why: str
    chance: float = 1.0  # that it is needed
    frees: float = 0.0
    first: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DayPlan:
    entries: tuple[DayEntry, ...]
    minutes_used: float
    minutes_idle: float
    finished: tuple[str, ...]  # jobs done within the day
    minutes_saved: float  # by doing one method over several horns
    overnight: tuple[str, ...]  # jobs that rest when the day ends; those that rested all day among them
    minutes_if_stuck: float = 0.0  # more than the average if no try frees its part


def rank_jobs(jobs: Iterable[OpenJob], *, today: date, bench_minutes_per_day: float = 240.0) -> tuple[RankedJob, ...]:
    """Return the jobs by weighted shortest processing time: most students per attended minute first.

    For one bench this order has the least total of students times the moment their horn is done (Smith 1956). Jobs
    nobody waits for come last, the shortest first. A due date does not move a job: the order says which dates it would
    break, at so many attended minutes a day.
    """
    ordered = sorted(jobs, key=_rank)
    ranked, clock = [], 0.0
    for place, job in enumerate(ordered, start=1):
        clock += job.minutes
        days = int(clock / bench_minutes_per_day)
        late = job.due_on is not None and (job.due_on - today).days < days
        ranked.append(
            RankedJob(
                job=job, place=place, done_after_minutes=clock, is_late_risk=late, why=_why(job, clock=clock, late=late)
            )
        )
    return tuple(ranked)


def _rank(job: OpenJob) -> tuple[float, float, str]:
    if job.students <= 0:
        return (float("inf"), job.minutes, job.key)
    return (job.minutes / job.students, job.minutes, job.key)


def _why(job: OpenJob, *, clock: float, late: bool) -> str:
    minutes = f"{job.minutes:.0f} min"
    if job.students <= 0:
        words = f"nobody waits for it; {minutes}, shortest first"
    else:
        who = "1 student waits" if job.students == 1 else f"{job.students:g} students wait"
        rate = job.students / job.minutes * 60.0 if job.minutes else float("inf")
        words = f"{who}, {minutes}: {rate:.1f} served per hour" if job.minutes else f"{who}, no work left"
    if job.due_on is not None:
        words += f"; due {job.due_on:%b} {job.due_on.day}"
    return f"{words}; at risk: done only after {clock / 60:.1f} bench hours" if late else words


def why_before(first: RankedJob, second: RankedJob) -> str:
    """Return the answer to "why this first?" for two jobs of one ranking."""
    return f"{first.job.name}: {first.why}. {second.job.name}: {second.why}."


@dataclass(frozen=True, slots=True)
class SetUp:
    """What of a step is fetching, laying out and clearing away: so many minutes, and never more than a share of it."""

    minutes: float
    share: float

    @classmethod
    def of(cls, settings: Mapping[str, Decimal]) -> SetUp:
        return cls(minutes=float(settings["set_up_minutes"]), share=float(settings["set_up_share"]))


def setup_minutes(step: DayStep, *, set_up: SetUp) -> float:
    """Return the minutes of a step that are setting up and clearing away, saved when the next horn follows at once."""
    if step.method in UNSHARED:
        return 0.0
    return min(set_up.minutes, set_up.share * step.minutes)


def batches(jobs: Iterable[OpenJob], *, set_up: SetUp, at_least: int = 2) -> tuple[Batch, ...]:
    """Return the methods that are ready on several horns, the most minutes saved first."""
    ready: dict[str, list[tuple[OpenJob, DayStep]]] = defaultdict(list)
    for job in jobs:
        open_keys = {step.key for step in job.steps}
        for step in job.steps:
            if step.method not in UNSHARED and not open_keys.intersection(step.after):
                ready[step.method].append((job, step))
    found = []
    for method, members in ready.items():
        if len({job.key for job, _ in members}) < at_least:
            continue
        apart = sum(step.minutes for _, step in members)
        saved = sum(sorted(setup_minutes(step, set_up=set_up) for _, step in members)[:-1])
        found.append(
            Batch(
                method=method,
                say=members[0][1].say,
                jobs=tuple(dict.fromkeys(job.key for job, _ in members)),
                minutes_apart=apart,
                minutes_together=apart - saved,
            )
        )
    return tuple(sorted(found, key=lambda batch: (-batch.minutes_saved, batch.method)))


class _Open:
    """The state of one job while a day is laid out."""

    def __init__(self, job: OpenJob, *, place: int) -> None:
        self.job = job
        self.place = place
        self.left = {step.key: step for step in job.steps}
        self.ready_at: dict[str, float] = {}  # when what a done step set in motion is over

    def next_step(self, *, clock: float) -> DayStep | None:
        """Return the first step in planned order whose forerunners are done and have rested."""
        for step in self.left.values():
            if any(first in self.left for first in step.after):
                continue
            if all(self.ready_at.get(first, 0.0) <= clock for first in step.after):
                return step
        return None

    @property
    def is_finished(self) -> bool:
        """Whether nothing is left, or only tries that are not likely to be needed."""
        return all(step.chance < UNLIKELY for step in self.left.values())

    def wakes_at(self) -> float | None:
        """Return when a resting step lets the next one begin, or None if nothing does by itself."""
        times = [
            max((self.ready_at.get(first, 0.0) for first in step.after), default=0.0)
            for step in self.left.values()
            if not any(first in self.left for first in step.after)
        ]
        return min(times, default=None)


def plan_day(jobs: Sequence[OpenJob], *, hours: float, today: date, set_up: SetUp) -> DayPlan:
    """Lay out a day of so many bench hours: jobs in order, and while one rests, the next one's work.

    After each step the same method on other horns follows at once where it is ready there and the set-up it saves is
    worth more than the wait it costs the horn in front. Steps are not cut: one that would run past the end is not begun.
    """
    end = hours * 60.0
    ranked = rank_jobs([job for job in jobs if job.steps], today=today)
    states = [_Open(one.job, place=one.place) for one in ranked]
    why = {one.job.key: one.why for one in ranked}
    same = _by_method(states)
    resting = [(state.job.rests_minutes, at) for at, state in enumerate(states) if state.job.rests_minutes > 0]
    heapq.heapify(resting)
    awake = [at for at, state in enumerate(states) if state.job.rests_minutes <= 0]
    clock, used, saved, if_stuck = 0.0, 0.0, 0.0, 0.0
    entries: list[DayEntry] = []
    finished: list[str] = []
    last: DayStep | None = None
    while True:
        while resting and resting[0][0] <= clock:
            heapq.heappush(awake, heapq.heappop(resting)[1])
        pick = _pick(states, awake=awake, same=same, clock=clock, end=end, last=last, set_up=set_up)
        if pick is None:
            if not resting or resting[0][0] >= end:
                break
            clock, last = resting[0][0], None
            continue
        index, step, minutes = pick
        state = states[index]
        is_shared = last is not None and last.method == step.method and setup_minutes(step, set_up=set_up) > 0
        saved += step.minutes - minutes
        because = ALREADY_SET_UP if is_shared else why[state.job.key]
        entries.append(_entry(state.job, step, starts_at=clock, minutes=minutes, why=because))
        if_stuck += step.minutes_if_needed - step.minutes
        clock += minutes
        used += minutes
        del state.left[step.key]
        state.ready_at[step.key] = clock + step.wait_h * 60.0
        last = step
        if state.is_finished:
            finished.append(state.job.key)
            continue
        wakes = state.wakes_at()
        if wakes is not None and wakes > clock:
            heapq.heappush(resting, (wakes, index))
        else:
            heapq.heappush(awake, index)
    overnight = tuple(states[index].job.key for _, index in sorted(resting))
    return DayPlan(
        entries=tuple(entries),
        minutes_used=used,
        minutes_idle=max(end - used, 0.0),
        finished=tuple(finished),
        minutes_saved=saved,
        overnight=overnight,
        minutes_if_stuck=if_stuck,
    )


def _entry(job: OpenJob, step: DayStep, *, starts_at: float, minutes: float, why: str) -> DayEntry:
    return DayEntry(
        starts_at=starts_at,
        ends_at=starts_at + minutes,
        job=job.key,
        step=step.key,
        say=step.say,
        rests_until=starts_at + minutes + step.wait_h * 60.0,
        why=why,
        chance=step.chance,
        frees=step.frees,
        first=step.first,
    )


def _by_method(states: Sequence[_Open]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for index, state in enumerate(states):
        for step in state.left.values():
            if index not in found[step.method]:
                found[step.method].append(index)
    return found


def _pick(
    states: Sequence[_Open],
    *,
    awake: list[int],
    same: dict[str, list[int]],
    clock: float,
    end: float,
    last: DayStep | None,
    set_up: SetUp,
) -> tuple[int, DayStep, float] | None:
    """Take the next step out of the awake jobs: the same method again where it pays, else the first job's next step."""
    if last is not None and last.method not in UNSHARED:
        for index in same.get(last.method, ()):
            if index not in awake:
                continue
            step = states[index].next_step(clock=clock)
            if step is not None and step.method == last.method:
                minutes = step.minutes - setup_minutes(step, set_up=set_up)
                if clock + minutes <= end and _pays(
                    states, awake=awake, index=index, step=step, saved=step.minutes - minutes
                ):
                    awake.remove(index)
                    heapq.heapify(awake)
                    return index, step, minutes
    set_aside = []
    found = None
    while awake and found is None:
        index = heapq.heappop(awake)
        step = states[index].next_step(clock=clock)
        if step is not None and clock + step.minutes <= end:
            found = (index, step, step.minutes)
        else:
            set_aside.append(index)
    for index in set_aside:
        heapq.heappush(awake, index)
    return found


def _pays(states: Sequence[_Open], *, awake: Sequence[int], index: int, step: DayStep, saved: float) -> bool:
    """Whether the saved set-up outweighs the wait of the students in front, weighed as the order weighs them."""
    front = min(awake)
    if front == index:
        return True
    waiting = sum(states[one].job.students for one in awake if one < index)
    behind = sum(states[one].job.students for one in awake if one >= index)
    return (step.minutes - saved) * waiting <= saved * (waiting + behind)
