"""The clock of a job: one step at a time, attended minutes apart from waits."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.services.event_log import log_event
from repairs.exceptions import StepRefusedError
from repairs.models import Job, StepClock
from repairs.rules.plan import PlannedStep
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs.guards import lock_open_job, step_to_do

TIMED_AT_MOST = Decimal(480)  # minutes; a clock left running overnight teaches nothing


@service
def start_step(*, job: Job, step_key: str, actor: User, at: datetime) -> StepClock:
    """Start the clock on a step; starting another step moves the clock to it."""
    fresh = lock_open_job(job)
    step = step_to_do(job=fresh, plan=plan_for_job(fresh), key=step_key)
    clock, _ = StepClock.objects.update_or_create(
        job=fresh,
        defaults={
            "step_key": step.key, "started_at": at, "actor": actor, "waiting_since": None, "waits_until": None,
        },
    )  # fmt: skip
    return clock


@service
def let_it_wait(*, job: Job, step_key: str, actor: User, at: datetime) -> StepClock:
    """The hands-on part is done and the rest needs nobody: it soaks, dries or sets until the step's wait is over.

    Refuses a step that has no wait. A wait that runs already goes on as it is.
    """
    fresh = lock_open_job(job)
    step = step_to_do(job=fresh, plan=plan_for_job(fresh), key=step_key)
    if step.wait_h <= 0:
        raise StepRefusedError(gettext("There is nothing to wait for at this step."))
    clock = StepClock.objects.filter(job=fresh, step_key=step.key).first()
    if clock is not None and clock.waiting_since is not None:
        return clock
    started_at = clock.started_at if clock else at
    clock, _ = StepClock.objects.update_or_create(
        job=fresh,
        defaults={
            "step_key": step.key,
            "started_at": started_at,
            "waiting_since": at,
            "waits_until": at + timedelta(hours=float(step.wait_h)),
            "actor": actor,
        },
    )
    log_event(
        instrument=fresh.instrument,
        act="step_waits",
        subject=fresh,
        after={"step": step.key, "until": clock.waits_until},
    )
    return clock


@service
def stop_clock(*, job: Job, actor: User, at: datetime) -> None:
    """Undo a start that was tapped by mistake; the end of a wait is logged, because its start was."""
    fresh = lock_open_job(job)
    clock = StepClock.objects.filter(job=fresh).first()
    if clock is None:
        return
    clock.delete()
    if clock.waiting_since is not None:
        log_event(instrument=fresh.instrument, act="step_wait_stopped", subject=fresh, after={"step": clock.step_key})


def attended_minutes(*, clock: StepClock | None, step: PlannedStep, at: datetime) -> Decimal | None:
    """Minutes by the clock; None without one, when it ran overnight, or when nobody said where a wait began."""
    if clock is None or (step.wait_h > 0 and clock.waiting_since is None):
        return None
    minutes = Decimal(str(((clock.waiting_since or at) - clock.started_at).total_seconds() / 60))
    return minutes.quantize(Decimal("0.1")) if 0 < minutes <= TIMED_AT_MOST else None
