"""Recompute verdict and readiness of every instrument, after the rules or the catalog have changed."""

from __future__ import annotations

from datetime import datetime

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.models import District, Instrument
from inventory.selectors.state import CHUNK, stored_differences
from inventory.services.state import lock_instruments, refresh_state


@service
def refresh_all_states(*, because: str, actor: User | None, at: datetime) -> int:
    """Write every column that no longer follows from the facts; return how many instruments changed.

    One event records why. A changed verdict or readiness is logged with its instrument as well, as always.
    """
    keys = [row.pk for row, wrong in stored_differences(Instrument.objects.all()) if wrong]
    for start in range(0, len(keys), CHUNK):
        for row in lock_instruments(*keys[start : start + CHUNK]):
            refresh_state(instrument=row, actor=actor, at=at)
    if keys:
        record_event(
            actor=actor,
            act="refreshed",
            subject=District.objects.first() or Instrument.objects.get(pk=keys[0]),
            at=at,
            after={"because": because, "instruments": len(keys)},
        )
    return len(keys)
