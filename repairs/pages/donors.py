"""Instruments kept for parts: what they still have, what went where, and what is known to fit what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.days import full_day, short_day
from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.models import Instrument
from inventory.rules.facts import FindingFact
from inventory.rules.verdict import finding_name
from repairs.models import PartsInstrument, TakenPart
from repairs.rules.matched import Spot, missing_spots, part_words, set_of, spots_words, still_there, takeable
from repairs.selectors.donors import donors_having, fits_noted, out_of, parts_moved, standing_findings, taken_words


@dataclass(frozen=True, slots=True)
class Offer:
    """Something it still has. ``key`` is "part:place"; a set is offered as one, under its first member."""

    key: str
    name: str
    trouble: str  # what is known to be wrong with it
    set_because: str  # "" unless it is a set
    spots: tuple[Spot, ...]  # all that is taken with it


def offers_of(parts_instrument: PartsInstrument) -> tuple[Offer, ...]:
    """Return what is left along the air path, what is left of a set as one. Two queries."""
    instrument, trade = parts_instrument.instrument, catalog()
    parts, facts = instrument.parts, standing_findings(instrument)
    missing = missing_spots(facts) | out_of(parts_instrument)
    trouble = {
        (fact.part, fact.place): finding_name(
            finding=fact, part=next((one for one in parts if one.code == fact.part), None), faults=trade.faults
        )
        for fact in facts
    }
    return tuple(_offers(parts, missing=missing, trouble=trouble))


def _offers(parts: tuple[Part, ...], *, missing: Collection[Spot], trouble: Mapping[Spot, str]) -> Iterator[Offer]:
    trade, shown = catalog(), set[Spot]()
    for code, place in takeable(parts, roles=trade.roles, missing=missing):
        matched = set_of(parts, part=code, sets=trade.fitted_sets)
        members = still_there(matched.members, missing=missing) if matched else ((code, place),)
        if (code, place) in shown:
            continue
        shown.update(members)
        words = [trouble[one] for one in ((c, p) for m in members for c, p in (m, (m[0], ""))) if one in trouble]
        yield Offer(
            key=f"{code}:{place}",
            name=spots_words(parts, members, sets=trade.fitted_sets),
            trouble="; ".join(dict.fromkeys(words)),
            set_because=matched.because if matched else "",
            spots=members,
        )


def marked_words(parts_instrument: PartsInstrument) -> str:
    """Say what it is, why it is kept for parts, since when and by whom."""
    marked = f"{full_day(timezone.localdate(parts_instrument.marked_at))}, {parts_instrument.marked_by}"
    model = f"{parts_instrument.instrument.maker} {parts_instrument.instrument.model}".strip()
    return " · ".join(filter(None, (model, parts_instrument.because, marked)))


@dataclass(frozen=True, slots=True)
class TakenLine:
    """Something that was taken, as a line: what, from and onto which, and what became of it."""

    first: TakenPart  # of those taken together
    words: str
    became: str

    @property
    def donor(self) -> Instrument:
        return self.first.parts_instrument.instrument

    @property
    def is_settled(self) -> bool:
        """Whether nothing more can become of it: it went back, or never was taken."""
        return self.first.went in {TakenPart.Went.BACK, TakenPart.Went.SLIP}

    @property
    def is_to_settle(self) -> bool:
        """Whether somebody still has to say that it fits, or where it went."""
        return self.first.went == TakenPart.Went.NOWHERE and self.first.fit != TakenPart.Fit.FITS

    @property
    def is_on_shelf(self) -> bool:
        return self.first.went == TakenPart.Went.SHELF


def part_sources(findings: Iterable[FindingFact], *, instrument: Instrument, user: Any) -> dict[str, Any]:
    """Return where a missing part may come from, and what was taken for its place already. Two queries at most."""
    spots = missing_spots(findings)
    if not spots:
        return {}
    part, place = min(spots)
    taken = [row for row in parts_moved(instrument) if row.onto_id == instrument.pk and (row.part, row.place) in spots]
    return {
        "offer": f"{part}:{place}",
        "donors": donors_having(part, place, instrument=instrument, user=user),
        "taken": [line for line in taken_lines(taken) if not line.is_settled],
    }


def taken_lines(rows: Iterable[TakenPart]) -> list[TakenLine]:
    """Return what went where, as it was taken: a set is one line."""
    groups: dict[Any, list[TakenPart]] = {}
    for one in rows:
        groups.setdefault(one.batch, []).append(one)
    return [TakenLine(group[0], taken_words(group), became_words(group[0])) for group in groups.values()]


def became_words(taken: TakenPart) -> str:
    """Say what became of it, with who and when."""
    values: dict[str, Any] = {"who": taken.went_by, "because": taken.went_because}
    values["number"] = taken.parts_instrument.instrument.asset_number
    if taken.went_at is not None:
        values["on"] = short_day(timezone.localdate(taken.went_at))
    if taken.went == TakenPart.Went.BACK:
        words = gettext("does not fit, back on %(number)s since %(on)s, %(who)s")
    elif taken.went == TakenPart.Went.SHELF and taken.shelf_item is not None:
        values["bench"] = taken.shelf_item.bench
        words = gettext("does not fit, in stock at %(bench)s since %(on)s, %(who)s")
    elif taken.went == TakenPart.Went.SLIP:
        return gettext("entered by mistake: %(because)s (%(who)s, %(on)s)") % values
    elif taken.fit == TakenPart.Fit.DOES_NOT:
        return gettext("does not fit; nobody said where it went")
    elif taken.fit == TakenPart.Fit.FITS:
        return gettext("fits")
    else:
        return gettext("not said yet whether it fits")
    return f"{words % values}{f'. {taken.went_because}' if taken.went_because else ''}"


def donor_fits(*, kind: str = "") -> list[dict[str, Any]]:
    """Return what is known about parts of one model on another, across the district; a set counts once. One query."""
    tries: dict[tuple[str, str, str], Counter[str]] = {}
    last: dict[tuple[str, str, str], datetime] = {}
    seen: set[Any] = set()
    for row in fits_noted(kind=kind):
        if row.batch in seen:
            continue
        seen.add(row.batch)
        off, onto = row.parts_instrument.instrument, row.onto
        matched = set_of(off.parts, part=row.part, sets=catalog().fitted_sets)
        key = (matched.name if matched else part_words(off.parts, row.part, ""), _model(off), _model(onto))
        tries.setdefault(key, Counter())[row.fit] += 1
        last.setdefault(key, row.taken_at)
    return [
        dict(zip(("part", "off", "onto"), key, strict=True), last_at=last[key], **{"fits": 0, "does_not": 0, **counts})
        for key, counts in sorted(tries.items())
    ]


def _model(instrument: Instrument) -> str:
    return " ".join(word for word in (instrument.maker, instrument.model) if word) or gettext("maker unknown")
