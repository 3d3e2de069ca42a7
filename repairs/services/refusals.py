"""What a refused decision stops, until a newer one holds."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext

from inventory.exceptions import RefusedError
from inventory.models import Instrument
from repairs.models import Job, StepClock, WorthDecision
from repairs.rules.facts import Outcome
from repairs.rules.plan import PlannedStep
from repairs.selectors.decisions import in_force, is_stopped, refusal_of
from repairs.selectors.refusals import refusal_words

UNWORKED = {Outcome.SKIPPED, Outcome.STOPPED, Outcome.DAMAGED}  # ends that cost nothing and are told all the same


def check_in_use(instrument: Instrument) -> None:
    """Refuse work on what is kept for parts or retired."""
    if instrument.is_parts_instrument:
        words = gettext("%(number)s is kept for parts. Put it back in service first.")
        raise RefusedError(words % {"number": instrument.asset_number})
    if instrument.is_retired:
        words = gettext("%(number)s is retired. Decide again what to do with it first.")
        raise RefusedError(words % {"number": instrument.asset_number})


def check_allowed(instrument: Instrument, *, approved_at: datetime | None = None) -> WorthDecision | None:
    """Refuse to spend what was not approved; return the decision that the work carries out.

    ``approved_at`` is when somebody approved the work's own cost.
    """
    decision = in_force(instrument)
    if decision is None or not decision.is_refused:
        return decision if decision is not None and decision.spends else None
    if decision.is_lifted_by(approved_at):
        return None
    raise RefusedError(gettext("%(refusal)s Decide again first.") % {"refusal": refusal_words(decision)})


def check_step(step: PlannedStep, *, job: Job, outcome: str = "") -> None:
    """Refuse to begin a step that costs money the refused decision did not allow; what was begun before is told."""
    if outcome in UNWORKED:
        return
    refused = refusal_of(job.instrument_id)
    if refused is None or not is_stopped(step, job=job):
        return
    if StepClock.objects.filter(job=job, step_key=step.key, started_at__lte=refused.settled_at).exists():
        return
    raise RefusedError(refusal_words(refused))
