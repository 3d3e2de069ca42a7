"""The clocks of a job's steps: under way, or soaking and drying by themselves; and the tries before the next way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.services.event_log import log_event
from repairs.exceptions import StepRefusedError
from repairs.models import Job, StepClock
from repairs.rules.facts import TRIES_A_WAY
from repairs.rules.plan import alike
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs.lifecycle import lock_open_job
from repairs.services.jobs.steps import set_step_tries, step_to_do


@service(once="key")
def take_step_tap(*, job: Job, key: UUID | None, actor: User, at: datetime, act: Callable[[], object]) -> None:
    """Do what was tapped at a step in one act, unless this tap was applied before; a refused tap may be sent again."""
    act()


@service
def start_step(*, job: Job, step_key: str, actor: User, at: datetime) -> StepClock:
    """Start the clock on a step. One that runs or rests already goes on as it is, and so do those of other steps."""
    fresh = lock_open_job(job)
    step = step_to_do(job=fresh, plan=plan_for_job(fresh), key=step_key, actor=actor)
    clock, _ = StepClock.objects.get_or_create(
        job=fresh, step_key=step.key, defaults={"started_at": at, "actor": actor}
    )
    return clock


@service
def begin_wait(*, job: Job, step_key: str, actor: User, at: datetime, with_alike: bool = False) -> StepClock:
    """The hands-on part is done and the rest needs nobody: it soaks, dries or sets until the step's wait is over.

    Refuses a step that has no wait. A wait that runs already goes on as it is; one that is over begins again, and no
    try is counted for the look in between. ``with_alike``: the same was done at the other parts that it may be done at,
    and no clock runs for; each took its part of the minutes.
    """
    fresh = lock_open_job(job)
    plan = plan_for_job(fresh)
    step = step_to_do(job=fresh, plan=plan, key=step_key, actor=actor)
    if step.wait_h <= 0:
        raise StepRefusedError(gettext("There is nothing to wait for at this step."))
    clocks = {clock.step_key: clock for clock in StepClock.objects.filter(job=fresh)}
    clock = clocks.get(step.key)
    if clock is not None and clock.waits_until is not None and clock.waits_until > at:
        return clock
    steps = [step, *(one for one in alike(plan, step.key) if with_alike and one.key not in clocks)]
    since = (clock.waiting_since if clock else None) or at
    begun = clock.started_at if clock else since
    each, until = (since - begun) / len(steps), at + timedelta(hours=float(step.wait_h))
    for number, one in enumerate(steps):
        row = clocks.setdefault(one.key, StepClock(job=fresh, step_key=one.key))
        row.started_at, row.waiting_since = begun + number * each, begun + (number + 1) * each
        row.waits_until, row.actor = until, actor
        row.save()
        log_event(instrument=fresh.instrument, act="step_waits", subject=fresh, after={"step": one.key, "until": until})
    return clocks[step.key]


@service
def stop_clock(*, job: Job, step_key: str, actor: User, at: datetime) -> None:
    """Undo a start that was tapped by mistake; the end of a wait is logged, because its start was."""
    fresh = lock_open_job(job)
    clock = StepClock.objects.filter(job=fresh, step_key=step_key).first()
    if clock is None:
        return
    clock.delete()
    if clock.waiting_since is not None:
        log_event(instrument=fresh.instrument, act="step_wait_stopped", subject=fresh, after={"step": clock.step_key})


@service
def count_try(*, job: Job, step_key: str, actor: User, at: datetime) -> int:
    """Count a try that did not work, before the next way is due, and return how many there were. A wait goes on."""
    fresh = lock_open_job(job)
    step = step_to_do(job=fresh, plan=plan_for_job(fresh), key=step_key, actor=actor)
    if not step.rung:
        raise StepRefusedError(gettext("Only ways to free a stuck part are tried more than once."))
    count: int = min(fresh.step_tries.get(step.key, 0) + 1, TRIES_A_WAY - 1)
    set_step_tries(job=fresh, tries={**fresh.step_tries, step.key: count})
    log_event(instrument=fresh.instrument, act="tried_in_vain", subject=fresh, after={"step": step.key, "count": count})
    return count
