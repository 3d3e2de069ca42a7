"""Recompute verdict and readiness of every instrument, after the rules or the catalog have changed."""

from __future__ import annotations

from datetime import datetime

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.models import Instrument, School
from inventory.selectors.state import CHUNK, stored_differences
from inventory.services.state import lock_instruments, refresh_state


@service
def refresh_all_states(*, because: str, actor: User | None, at: datetime) -> int:
    """Write every column that no longer follows from the facts; return how many instruments changed.

    One event at each school records why; sums that other processes keep of the school follow it. A changed verdict or
    readiness is logged with its instrument as well, as always.
    """
    keys = [row.pk for row, wrong in stored_differences(Instrument.objects.all()) if wrong]
    by_school: dict[School, int] = {}
    for start in range(0, len(keys), CHUNK):
        for row in lock_instruments(*keys[start : start + CHUNK]):
            refresh_state(instrument=row, actor=actor, at=at)
            by_school[row.school] = by_school.get(row.school, 0) + 1
    for school, count in by_school.items():
        after = {"because": because, "instruments": count}
        record_event(actor=actor, act="refreshed", subject=school, at=at, tenant=school.pk, after=after)
    return len(keys)
