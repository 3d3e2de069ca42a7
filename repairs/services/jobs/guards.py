"""What every act on a job makes sure of first: that the job is open, and that the step may be done now."""

from __future__ import annotations

from django.utils.translation import gettext

from core.acts import lock_row
from inventory.models import Whereabouts
from inventory.services.state import lock_instrument
from repairs.exceptions import AtShopError, CautionsFirstError, JobClosedError, StepRefusedError
from repairs.models import Job
from repairs.rules.plan import Plan, PlannedStep, may_do
from repairs.selectors.planning import step_of


def lock_open_job(job: Job) -> Job:
    """The job as it is now, its instrument locked; refuses one that has been closed, or whose instrument is at a shop."""
    instrument = lock_instrument(job.instrument_id)
    fresh = lock_row(job, "bench")
    fresh.instrument = instrument
    if fresh.closed_at is not None:
        raise JobClosedError(
            gettext("Somebody else has closed this job. What you entered was not added; nothing is lost.")
        )
    if fresh.instrument.whereabouts == Whereabouts.AT_SHOP:
        raise AtShopError(gettext("It is at a shop. Mark it as back on its order first. Nothing was changed."))
    return fresh


def step_to_do(*, job: Job, plan: Plan, key: str) -> PlannedStep:
    """The step, if it may be done now; the refusal says what comes first."""
    refusal = may_do(plan, key)
    if refusal is not None:
        raise StepRefusedError(gettext("Not now: %(reason)s.") % {"reason": refusal.reason})
    step = step_of(job, plan, key)
    if step is None:
        raise StepRefusedError(gettext("This step is no longer in the plan. Somebody may have done it already."))
    if step.acknowledgements and job.cautions_at is None:
        raise CautionsFirstError(gettext("Read the cautions first; once for this job is enough."))
    return step
