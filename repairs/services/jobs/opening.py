"""From the store to the bench."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction

from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import move_instrument
from repairs.exceptions import JobOpenError
from repairs.models import Bench, Job


@transaction.atomic
def open_job(
    *, instrument: Instrument, bench: Bench, actor: User, at: datetime, because: str = "", due_on: date | None = None
) -> Job:
    """Take it from the store to the bench. Refuses if it is elsewhere, kept for its parts, or a job is open."""
    if Instrument.objects.filter(pk=instrument.pk, is_parts_horn=True).exists():
        raise RefusedError(f"{instrument.asset_number} is kept for its parts. Put it back among those that play first.")
    if Job.objects.open().filter(instrument=instrument).exists():
        raise JobOpenError(f"There is a job open on {instrument.asset_number} already.")
    try:
        with transaction.atomic():
            job = Job.objects.create(
                instrument=instrument, bench=bench, opened_at=at, opened_by=actor, because=because[:200], due_on=due_on
            )
    except IntegrityError:
        raise JobOpenError(f"There is a job open on {instrument.asset_number} already.") from None
    move_instrument(
        instrument=instrument,
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.ON_BENCH,
        actor=actor,
        at=at,
        reference=f"job:{job.pk}",
    )
    log_event(
        instrument=instrument,
        act="job_opened",
        subject=job,
        actor=actor,
        at=at,
        after={"bench": bench.code, "due_on": due_on},
    )
    return job
