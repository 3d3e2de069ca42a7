"""From the store to the bench."""

from __future__ import annotations

from datetime import date, datetime

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, move_instrument
from repairs.exceptions import JobOpenError
from repairs.models import Bench, Job


@service
def open_job(
    *, instrument: Instrument, bench: Bench, actor: User, at: datetime, because: str = "", due_on: date | None = None
) -> Job:
    """Take it from the store to the bench. Refuses if it is elsewhere, kept for its parts, or a job is open."""
    row = lock_instrument(instrument)
    if row.is_parts_horn:
        raise RefusedError(
            gettext("%(number)s is kept for parts. Put it back in service first.") % {"number": row.asset_number}
        )
    if Job.objects.open().filter(instrument=row).exists():
        raise JobOpenError(gettext("%(number)s already has an open job.") % {"number": row.asset_number})
    job = Job.objects.create(
        instrument=row, bench=bench, opened_at=at, opened_by=actor, because=because[:200], due_on=due_on
    )
    move_instrument(
        instrument=row,
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.ON_BENCH,
        actor=actor,
        at=at,
        reference=f"job:{job.pk}",
    )
    log_event(instrument=row, act="job_opened", subject=job, after={"bench": bench.code, "due_on": due_on})
    return job
