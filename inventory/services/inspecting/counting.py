"""Accessory counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Accessory, Inspection, Instrument
from inventory.services.event_log import log_event
from inventory.services.inspecting.drafts import open_draft, write_draft
from inventory.services.state import lock_instrument, refresh_state


@service
def count_accessories(
    *,
    instrument: Instrument,
    counts: Mapping[str, int],
    actor: User,
    at: datetime,
    inspection: Inspection | None = None,
) -> None:
    """Record how many of each accessory are present. The counts of a draft are kept with it until it is finished."""
    row = lock_instrument(instrument)
    known = list(row.accessories.all())
    unknown = set(counts) - {one.code for one in known}
    if unknown:
        raise RefusedError(
            gettext("Not an accessory of this instrument: %(names)s.") % {"names": ", ".join(sorted(unknown))}
        )
    if inspection is not None:
        draft = open_draft(inspection)
        write_draft(draft, accessory_counts={**draft.accessory_counts, **counts})
        return
    store_counts(known, counts=counts)
    log_event(instrument=row, act="accessories_counted", after={"counts": dict(counts)})
    refresh_state(instrument=row, actor=actor, at=at)


def put_back(*, instrument: Instrument, parts: Iterable[str]) -> None:
    """Count what was missing as a part and is there again, where an accessory stands for it."""
    rows = list(instrument.accessories.filter(code__in=set(parts)))
    there = {one.code: one.expected if one.present is None else one.present + one.is_short for one in rows}
    store_counts(rows, counts=there)


def take_out(*, instrument: Instrument, parts: Iterable[str]) -> None:
    """Count as missing again what ``put_back`` counted as there."""
    rows = list(instrument.accessories.filter(code__in=set(parts)))
    there = {one.code: one.expected - 1 if one.present is None else one.present - 1 for one in rows}
    store_counts(rows, counts={code: max(count, 0) for code, count in there.items()})


def store_counts(accessories: Iterable[Accessory], *, counts: Mapping[str, int]) -> None:
    """Write the counts that changed, in the rows passed too: one statement for each number that was counted."""
    keys: dict[int, list[int]] = defaultdict(list)
    for one in accessories:
        if one.code in counts and one.present != counts[one.code]:
            one.present = counts[one.code]
            keys[one.present].append(one.pk)
    for present, changed in keys.items():
        Accessory.objects.filter(pk__in=changed).update(present=present)
