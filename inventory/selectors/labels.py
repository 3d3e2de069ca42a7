"""The tags to print."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef

from inventory.models import Instrument, InstrumentQuerySet, Tag, TagQuerySet

MOST_LABELS = 2000  # on one print; 2,000 are 67 sheets of 30


@dataclass(frozen=True, slots=True)
class LabelChoice:
    """``numbers``, or a single ``tag``, override the filters."""

    numbers: tuple[str, ...] = ()
    tag: int | None = None
    school: int | None = None
    room: int | None = None
    kind: str = ""
    only_unprinted: bool = True


def numbers_in(text: str) -> tuple[str, ...]:
    """The asset numbers of a typed list, each once, in the order typed; separated by commas, spaces or lines."""
    return tuple(dict.fromkeys(word.upper() for word in re.split(r"[\s,;]+", text) if word))


def unknown_numbers(rows: InstrumentQuerySet, numbers: tuple[str, ...]) -> list[str]:
    """Those of the numbers that no instrument of these rows has."""
    known = set(rows.filter(asset_number__in=numbers).values_list("asset_number", flat=True))
    return [number for number in numbers if number not in known]


def instruments_for_labels(rows: InstrumentQuerySet, choice: LabelChoice) -> InstrumentQuerySet:
    """The instruments whose tags may be printed, by number; ``only_unprinted`` applies to their tags."""
    rows = rows.present().order_by("asset_number")
    if choice.tag is not None:
        return rows.filter(tags=choice.tag)
    if choice.numbers:
        return rows.filter(asset_number__in=choice.numbers)
    return rows.of(school=choice.school, room=choice.room, kind_code=choice.kind)


def untagged(instruments: InstrumentQuerySet, choice: LabelChoice) -> InstrumentQuerySet:
    """Those of the instruments that need a tag first; none where a single tag was chosen."""
    if choice.tag is not None:
        return instruments.none()
    # Asked of each instrument, not by a list of all that have one: the unique key of live tags answers at once.
    return instruments.exclude(Exists(Tag.objects.live().filter(instrument=OuterRef("pk"), accessory=None)))


def _wanted(choice: LabelChoice, *, way: str = "") -> dict[str, Any]:
    """The live tags of the choice as a filter; ``way`` leads to them from the rows that are filtered."""
    wanted: dict[str, Any] = {f"{way}revoked_at": None}
    if choice.tag is not None:
        wanted[f"{way}pk"] = choice.tag
    elif choice.only_unprinted and not choice.numbers:
        wanted[f"{way}printed_at"] = None
    return wanted


def tags_for_labels(instruments: InstrumentQuerySet, choice: LabelChoice) -> TagQuerySet:
    """Their live tags, the instrument's own first, then those of its accessories."""
    tags = Tag.objects.filter(instrument__in=instruments, **_wanted(choice))
    return tags.select_related("instrument__school", "accessory").order_by(
        "instrument__asset_number", "accessory__position", "pk"
    )


def label_count(instruments: InstrumentQuerySet, choice: LabelChoice) -> int:
    """How many labels the choice is, tags still to be made included. Counting stops at one more than may be printed.

    Counted from the instruments: by a join the database begins with whichever side the choice narrows more.
    """
    most = MOST_LABELS + 1
    count = (
        instruments.order_by().filter(tags__isnull=False, **_wanted(choice, way="tags__")).values("tags")[:most].count()
    )
    return count if count == most else count + untagged(instruments, choice).order_by()[: most - count].count()


def tag_address(instrument: int, *, home: str) -> str:
    """Return the address in an instrument's live tag, "" without one. One query."""
    return tag_addresses([instrument], home=home).get(instrument, "")


def tag_addresses(instruments: Collection[int], *, home: str) -> dict[int, str]:
    """Return the address in the live tag of each that has one. One query."""
    tags = Tag.objects.live().filter(instrument__in=instruments, accessory=None)
    return {tag.instrument_id: tag.address(home=home) for tag in tags}


def tag_history(instrument: Instrument) -> TagQuerySet:
    """Every tag that it and its accessories ever had, newest first."""
    return (
        Tag.objects.filter(instrument=instrument)
        .select_related("accessory", "instrument")
        .order_by("-issued_at", "-pk")
    )
