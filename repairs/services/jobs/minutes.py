"""How many minutes an attempt took: by its clock, else as planned."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from repairs.models import Attempt, StepClock
from repairs.rules.facts import Outcome
from repairs.rules.plan import PlannedStep

TIMED_AT_MOST = Decimal(480)  # minutes; a clock left running overnight teaches nothing


def attended_minutes(*, clock: StepClock | None, step: PlannedStep, at: datetime) -> Decimal | None:
    """Minutes by the clock; None without one, when it ran overnight, or when nobody said where a wait began.

    Nobody does two steps at a time: what a clock showed while the same person began another step is not known either.
    """
    if clock is None or (step.wait_h > 0 and clock.waiting_since is None):
        return None
    ended_at = clock.waiting_since or at
    meanwhile = {"job": clock.job_id, "actor": clock.actor_id, "started_at__gt": clock.started_at}
    others = [rows.filter(**meanwhile, started_at__lt=ended_at) for rows in (StepClock.objects, Attempt.objects)]
    if any(rows.exists() for rows in others):
        return None
    minutes = Decimal(str((ended_at - clock.started_at).total_seconds() / 60)).quantize(Decimal("0.1"))
    return minutes if 0 < minutes <= TIMED_AT_MOST else None


def planned_minutes(*, step: PlannedStep, outcome: str) -> Decimal | None:
    """Return the planned minutes of a step that nobody timed; None for a step left out."""
    if outcome == Outcome.SKIPPED:
        return None
    return Decimal(str(step.minutes.likely)).quantize(Decimal("0.1"))
