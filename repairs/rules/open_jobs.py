"""A job as the bench's day takes it: its steps, and the tries that a stuck part may still come to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from repairs.rules.effort import pert_mean
from repairs.rules.plan import Plan, PlannedStep, RungState

UNLIKELY = 0.5  # a try that is needed less often does not hold up what follows, nor the end of a job


@dataclass(frozen=True, slots=True)
class DayStep:
    """One step of a job in its planned order. ``after`` holds the keys of the job's steps that must be done before."""

    key: str
    method: str
    say: str
    minutes: float  # attended, on average: those of a try that may not be needed count with its chance
    wait_h: float = 0.0
    after: tuple[str, ...] = ()
    setup: str = ""
    chance: float = 1.0  # that it has to be done at all: a further try at a part that stayed stuck
    frees: float = 0.0  # for a try, the chance that it is the last
    first: tuple[str, ...] = ()  # what has to be done for a further try and is not planned otherwise

    @property
    def minutes_if_needed(self) -> float:
        return self.minutes / self.chance if self.chance else 0.0


@dataclass(frozen=True, slots=True)
class OpenJob:
    """A job on the bench. ``minutes`` is the attended time still to go, ``students`` who wait for the horn.

    ``rests_minutes`` is how long it still soaks, dries or sets before anybody can go on with it.
    """

    key: str
    name: str
    minutes: float
    students: float
    due_on: date | None = None
    steps: tuple[DayStep, ...] = ()
    rests_minutes: float = 0.0


def open_job(*, key: str, name: str, plan: Plan, students: float, due_on: date | None = None) -> OpenJob:
    """Return the job that a plan describes: its steps at their mean minutes, its ladders with every try they may come to.

    The minutes of the steps add up to those of the job, but for what the later tries of two ladders need alike.
    """
    tries = {step.key: tuple(_tries(step)) for step in plan.steps if step.rung}
    free = {key: _likely_free(found) for key, found in tries.items()}
    wanted = {key: _wanted(found, plan=plan) for key, found in tries.items()}
    steps: list[DayStep] = []
    for step in plan.steps:
        after = tuple(
            free[first] if first in free and step.key not in wanted[first] else first for first in step.prerequisites
        )
        first, *further = tries.get(step.key) or (_day_step(step),)
        steps += (replace(first, after=after), *further)
    return OpenJob(key=key, name=name, minutes=plan.mean_minutes, students=students, due_on=due_on, steps=tuple(steps))


def _day_step(step: PlannedStep) -> DayStep:
    return DayStep(
        key=step.key,
        method=step.method if not step.rung else f"{step.method}.{step.rung}",
        say=f"{step.say} ({step.part_name})" if step.part_name else step.say,
        minutes=pert_mean(step.minutes),
        wait_h=float(step.wait_h),
        after=step.prerequisites,
        setup=step.setup,
    )


def _tries(step: PlannedStep) -> Iterator[DayStep]:
    """Yield the tries at a stuck part in order, each with the chance that it comes to it; a shop's is none of the day."""
    frees = step.odds.mean if step.odds is not None else 0.0
    yield replace(_day_step(step), frees=frees)
    chance, before, seen = 1.0 - frees, step.key, set[str]()
    for rung in step.next_rungs:
        if rung.state is RungState.OUTSIDE or chance <= 0.0:
            return
        more = [(name, minutes) for name, minutes in rung.first_takes if name not in seen]
        seen.update(name for name, _ in more)
        takes = pert_mean(rung.minutes) + sum(minutes for _, minutes in more)
        yield DayStep(
            key=rung.step_key,
            method=f"{step.method}.{rung.code}",
            say=f"{rung.say} ({step.part_name})",
            minutes=chance * takes,
            wait_h=float(rung.wait_h),
            after=(before, *rung.waits_on),
            chance=chance,
            frees=rung.p,
            first=tuple(name for name, _ in more if name in rung.first),
        )
        chance, before = chance * (1.0 - rung.p), rung.step_key


def _wanted(tries: Sequence[DayStep], *, plan: Plan) -> frozenset[str]:
    """Return the steps that a further try waits for, and all that these wait for: they cannot wait for it."""
    before = {step.key: step.prerequisites for step in plan.steps}
    found: set[str] = set()
    stack = [key for one in tries[1:] for key in one.after]
    while stack:
        key = stack.pop()
        if key not in found:
            found.add(key)
            stack += before.get(key, ())
    return frozenset(found)


def _likely_free(tries: Sequence[DayStep]) -> str:
    """Return the try after which the part is more likely free than not: what waits for the part is laid out after it."""
    return next((one.key for one in tries if one.chance * (1.0 - one.frees) <= UNLIKELY), tries[-1].key)
