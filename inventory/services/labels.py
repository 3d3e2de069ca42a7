"""Tags on paper: those that go onto a sheet, and the note that they did."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.models import Instrument, Tag
from inventory.services.registering import issue_tag
from inventory.services.state import lock_instruments


@service
def tag_the_untagged(*, instruments: Iterable[Instrument], actor: User | None, at: datetime) -> int:
    """Give a tag to each of the instruments that have no live one; return how many got one."""
    rows = lock_instruments(*instruments)
    live = Tag.objects.live().filter(instrument__in=[row.pk for row in rows], accessory=None)
    tagged = set(live.values_list("instrument_id", flat=True))
    bare = [row for row in rows if row.pk not in tagged]
    for instrument in bare:
        issue_tag(instrument=instrument, actor=actor, at=at)
    return len(bare)


@service
def note_printed(*, tags: Sequence[Tag], sheet: str, actor: User | None, at: datetime) -> None:
    """Remember that the tags were put on a sheet; one event for the lot, under the first tag."""
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
