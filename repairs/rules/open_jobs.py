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
    """A job on the bench. ``minutes`` is the attended time still to go, ``students`` who wait for the instrument.

    ``rests_minutes`` is how long it still rests before anybody can go on with any part of it.
    """

    key: str
    name: str
    minutes: float
    students: float
    due_on: date | None = None
    steps: tuple[DayStep, ...] = ()
    rests_minutes: float = 0.0


def open_job(*, key: str, name: str, plan: Plan, students: float, due_on: date | None = None) -> OpenJob:
    """Return the job that a plan describes: its steps at their mean minutes, each ladder with every try it may come to.

    A step that waits for a stuck part waits for the try after which the part is more likely free than not, unless a
    further try itself needs that step. The minutes of the steps add up to those of the job, except for set-up that the
    job counts once, and what the later tries of two ladders both need.
    """
    tries = {step.key: list(_tries(step)) for step in plan.steps if step.rung}
    likely_free = {key: _likely_free(found).key for key, found in tries.items()}
    needed = {key: _needed_by_tries(found[1:], plan=plan) for key, found in tries.items()}
    steps: list[DayStep] = []
    for step in plan.steps:
        after = tuple(
            key if step.key in needed.get(key, ()) else likely_free.get(key, key) for key in step.prerequisites
        )
        if step.key in tries:
            first, *further = tries[step.key]
            steps += (replace(first, after=after), *further)
        else:
            steps.append(_day_step(step, after=after))
    return OpenJob(key=key, name=name, minutes=plan.mean_minutes, students=students, due_on=due_on, steps=tuple(steps))


def _day_step(step: PlannedStep, *, after: tuple[str, ...] = ()) -> DayStep:
    return DayStep(
        key=step.key,
        method=step.method if not step.rung else f"{step.method}.{step.rung}",
        say=f"{step.say} ({step.part_name})" if step.part_name else step.say,
        minutes=pert_mean(step.minutes) + step.set_up_minutes,  # the day itself sees what it can do in one go
        wait_h=float(step.wait_h),
        after=after,
        setup=step.setup,
    )


def _tries(step: PlannedStep) -> Iterator[DayStep]:
    """Yield the tries at a stuck part in order, each with the chance that it comes to it; a shop's is not of the day.

    What several tries need first is counted with the first of them.
    """
    frees = step.odds.mean if step.odds is not None else 0.0
    yield replace(_day_step(step), frees=frees)
    chance, before, counted = 1.0 - frees, step.key, set[str]()
    for rung in step.next_rungs:
        if rung.state is RungState.OUTSIDE or chance <= 0.0:
            return
        extra = {name: bill.minutes for name, bill in rung.first_takes if name not in counted}
        counted |= extra.keys()
        yield DayStep(
            key=rung.step_key,
            method=f"{step.method}.{rung.entry.code}",
            say=f"{rung.entry.name} ({step.part_name})",
            minutes=chance * (pert_mean(rung.minutes) + sum(extra.values())),
            wait_h=float(rung.wait_h),
            after=(before, *rung.waits_on),
            chance=chance,
            frees=rung.p,
            first=tuple(name for name in extra if name in rung.first),
        )
        chance, before = chance * (1.0 - rung.p), rung.step_key


def _needed_by_tries(tries: Sequence[DayStep], *, plan: Plan) -> set[str]:
    """Return the steps that tries wait for, and all that these wait for: they cannot wait for the tries."""
    before = {step.key: step.prerequisites for step in plan.steps}
    found: set[str] = set()
    stack = [key for one in tries for key in one.after]
    while stack:
        key = stack.pop()
        if key not in found:
            found.add(key)
            stack += before.get(key, ())
    return found


def _likely_free(tries: Sequence[DayStep]) -> DayStep:
    """Return the try after which the part is more likely free than not, else the last."""
    return next((one for one in tries if one.chance * (1.0 - one.frees) <= UNLIKELY), tries[-1])
