"""Carries out a season plan: opens the jobs of its repairs, all in one act."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.state import lock_instruments
from repairs.models import Bench, Job
from repairs.services.jobs import open_job


@service(once="nonce")
def open_planned_jobs(
    *,
    instruments: Collection[Instrument],
    due_on: date | None,
    actor: User,
    at: datetime,
    nonce: UUID | None = None,
) -> Job:
    """Open a job on each instrument at the first bench of its school, and return the last; all of them or none.

    Refuses where there is none to open, where a school has no bench, and whatever ``open_job`` refuses, by number.
    """
    rows = lock_instruments(*instruments)
    if not rows:
        raise RefusedError(gettext("None of these can go to the bench anymore. Make the plan again."))
    schools = {row.school_id for row in rows}
    benches = Bench.objects.filter(school__in=schools).in_use().order_by("-pk")
    first = {bench.school_id: bench for bench in benches}
    because = gettext("Season plan")
    jobs = []
    for row in rows:
        bench = first.get(row.school_id)
        if bench is None:
            words = gettext("%(number)s: its school has no bench. Nothing was changed.")
            raise RefusedError(words % {"number": row.asset_number})
        try:
            jobs.append(open_job(instrument=row, bench=bench, because=because, due_on=due_on, actor=actor, at=at))
        except RefusedError as error:
            raise RefusedError(f"{row.asset_number}: {error}") from error
    return jobs[-1]
