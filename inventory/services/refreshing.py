"""Store verdict and readiness of everything afresh, after the rules or the catalog have changed."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from core.events import NewEvent, record_events
from core.models import User
from inventory.models import District, Instrument
from inventory.selectors.state import stored_differences


@transaction.atomic
def refresh_all_states(*, because: str, actor: User | None, at: datetime) -> int:
    """Write every column that does not follow from the facts any more; return how many instruments that changed.

    One event says why. Beside it, a changed verdict or readiness stands in the thread of its instrument, as always.
    """
    changed: list[Instrument] = []
    events: list[NewEvent] = []
    for row, wrong in stored_differences(Instrument.objects.select_for_update()):
        if not wrong:
            continue
        changed.append(row)
        Instrument.objects.filter(pk=row.pk).update(**wrong)
        before = {name: getattr(row, name) for name in ("verdict", "readiness")}
        if before.keys() & wrong.keys():
            after = {name: wrong.get(name, value) for name, value in before.items()}
            events.append(NewEvent("judged", row, row.thread, row.school_id, before, after))
    if changed:
        why = {"because": because, "instruments": len(changed)}
        subject = District.objects.first() or changed[0]
        record_events(actor=actor, at=at, events=[NewEvent("refreshed", subject, after=why), *events])
    return len(changed)
