"""How many of each accessory are there."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Inspection, Instrument
from inventory.services.event_log import log_event
from inventory.services.inspecting.drafts import open_draft
from inventory.services.state import refresh_state


@transaction.atomic
def count_accessories(
    *,
    instrument: Instrument,
    counts: Mapping[str, int],
    actor: User,
    at: datetime,
    inspection: Inspection | None = None,
) -> None:
    """Note how many of each accessory are there. Within a draft the counts are kept with it until it is finished."""
    known = {row.code: row for row in instrument.accessories.all()}
    unknown = set(counts) - set(known)
    if unknown:
        raise RefusedError(f"Not an accessory of this instrument: {', '.join(sorted(unknown))}.")
    if inspection is not None:
        draft = open_draft(inspection)
        Inspection.objects.filter(pk=draft.pk).update(accessory_counts={**draft.accessory_counts, **counts})
        return
    store_counts(instrument=instrument, counts=counts)
    log_event(
        instrument=instrument,
        act="accessories_counted",
        actor=actor,
        at=at,
        after={"counts": dict(counts)},
    )
    refresh_state(instrument=instrument, actor=actor, at=at)


def store_counts(*, instrument: Instrument, counts: Mapping[str, int]) -> None:
    for row in instrument.accessories.filter(code__in=list(counts)):
        if row.present != counts[row.code]:
            instrument.accessories.filter(pk=row.pk).update(present=counts[row.code])
