"""What a scan in a count means, and the rows of a count's sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from desk.selectors.finding_instruments import instrument_elsewhere, instruments_named, tag_for
from inventory.models import Accessory, Count, CountDifference, CountLine, Instrument, Sighting, Whereabouts
from inventory.rules.counting import Outcome
from inventory.selectors.counts import unseen_outcomes


@dataclass(frozen=True, slots=True)
class Scan:
    """What was scanned or typed: one instrument, one of several, an accessory's tag, or a number nobody knows."""

    instrument: Instrument | None = None
    several: tuple[Instrument, ...] = ()
    accessory: Accessory | None = None


def scan_of(user: Any, text: str) -> Scan:
    """Look in the whole district: what belongs to another school is recorded too, whoever counts.

    A revoked tag is a number that nobody knows, unless what it was on is out of the fleet.
    """
    tag = tag_for(text)
    if tag is not None:
        if tag.revoked_at is not None and tag.instrument.whereabouts != Whereabouts.GONE:
            return Scan()
        return Scan(accessory=tag.accessory) if tag.accessory else Scan(instrument=tag.instrument)
    found = instruments_named(user, text)
    if len(found) > 1:
        return Scan(several=tuple(found))
    return Scan(instrument=found[0] if found else instrument_elsewhere(text))


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row of a count: an instrument or an unknown number, what became of it, and how it was settled."""

    instrument: Instrument | None
    outcome: Outcome
    line: CountLine | None
    sighting: Sighting | None
    difference: CountDifference | None


def sheet_rows(count: Count) -> Iterator[SheetRow]:
    """What was expected, by number, then what else was seen. Of a signed count as it was signed. Four queries."""
    settled = CountDifference.objects.filter(count=count)
    by_line = {row.line_id: row for row in settled if row.line_id}
    by_sighting = {row.sighting_id: row for row in settled if row.sighting_id}
    sightings = Sighting.objects.standing().filter(count=count)
    rows = list(
        sightings.select_related("instrument__school", "room", "actor").order_by("instrument__asset_number", "pk")
    )
    seen = {row.instrument_id: row for row in rows if row.instrument_id}
    unseen = {} if count.signed_at else {line.pk: outcome for line, outcome in unseen_outcomes(count)}
    lines = CountLine.objects.filter(count=count).select_related("instrument__school", "room")
    listed = set()
    for line in lines.order_by("instrument__asset_number"):
        sighting = seen.get(line.instrument_id)
        listed.add(line.instrument_id)
        outcome = Outcome(sighting.outcome if sighting else line.outcome or unseen.get(line.pk, Outcome.NOT_FOUND))
        difference = by_line.get(line.pk) or (by_sighting.get(sighting.pk) if sighting else None)
        yield SheetRow(line.instrument, outcome, line, sighting, difference)
    for row in rows:
        if row.instrument_id is None or row.instrument_id not in listed:
            yield SheetRow(row.instrument, Outcome(row.outcome), None, row, by_sighting.get(row.pk))


def counters_of(count: Count) -> list[str]:
    """The names of those who counted, in the order of their first sighting."""
    rows = Sighting.objects.standing().filter(count=count).order_by("seen_at", "pk")
    return list(dict.fromkeys(rows.filter(~Q(actor=None)).values_list("actor__name", flat=True)))
