"""Tags on paper: those that go onto a sheet, and the note that they did."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db import transaction

from core.events import record_event
from core.models import User
from inventory.models import Instrument, Tag
from inventory.services.registering import issue_tag


@transaction.atomic
def tag_the_untagged(*, instruments: Iterable[Instrument], actor: User | None, at: datetime) -> int:
    """Give a tag to each of the instruments that have no live one; return how many got one."""
    bare = list(instruments)
    for instrument in bare:
        issue_tag(instrument=instrument, actor=actor, at=at)
    return len(bare)


@transaction.atomic
def note_printed(*, tags: Sequence[Tag], sheet: str, actor: User | None, at: datetime) -> None:
    """Remember that the tags were put on a sheet; one event for the lot, under the first tag."""
    if not tags:
        return
    numbers = [tag.pk for tag in tags]
    Tag.objects.filter(pk__in=numbers).update(printed_at=at)
    schools = {tag.instrument.school_id for tag in tags}
    record_event(
        actor=actor,
        act="labels_printed",
        subject=tags[0],
        at=at,
        tenant=schools.pop() if len(schools) == 1 else None,
        after={"tags": numbers, "sheet": sheet},
    )
