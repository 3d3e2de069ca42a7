"""Tags on paper: tags for instruments that lack one, and the record of printing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.models import Instrument, Tag
from inventory.services.registering import log_issued, new_token
from inventory.services.state import lock_instruments


@service
def issue_missing_tags(*, instruments: Iterable[Instrument], actor: User | None, at: datetime) -> int:
    """Issue a tag to each of the instruments without a live one; return how many were issued."""
    rows = lock_instruments(*instruments)
    live = Tag.objects.live().filter(instrument__in=[row.pk for row in rows], accessory=None)
    tagged = set(live.values_list("instrument_id", flat=True))
    missing = [row for row in rows if row.pk not in tagged]
    tags = Tag.objects.bulk_create([Tag(token=new_token(), instrument=row, issued_at=at) for row in missing])
    for tag in tags:
        log_issued(tag)
    return len(tags)


@service
def note_printed(*, tags: Sequence[Tag], sheet: str, actor: User | None, at: datetime) -> None:
    """Record that the tags were printed; one event for all of them, under the first tag."""
    if not tags:
        return
    numbers = [tag.pk for tag in tags]
    Tag.objects.filter(pk__in=numbers).update(printed_at=at)
    schools = {tag.instrument.school_id for tag in tags}
    record_event(
        act="labels_printed",
        subject=tags[0],
        tenant=schools.pop() if len(schools) == 1 else None,
        after={"tags": numbers, "sheet": sheet},
    )
