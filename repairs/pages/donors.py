"""Instruments kept for parts: what they still have, what went where, and what is known to fit what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.models import Instrument
from inventory.rules.verdict import finding_name
from repairs.models import PartsHorn, TakenPart
from repairs.rules.matched import MatchedSet, set_of, takeable
from repairs.selectors.donors import fits_noted, standing_findings, taken_from


@dataclass(frozen=True, slots=True)
class Offer:
    """Something it still has. ``key`` is "part:place"; a set is offered as one, under its first member."""

    key: str
    name: str
    trouble: str  # what is known to be wrong with it
    set_because: str  # "" unless it is a set


@dataclass(frozen=True, slots=True)
class TakenLine:
    """What was taken at one time: a part, or a set."""

    first: TakenPart
    names: str
    fit: str


@dataclass(frozen=True, slots=True)
class PartsHornPage:
    horn: PartsHorn
    offers: tuple[Offer, ...]
    taken: tuple[TakenLine, ...]


@dataclass(frozen=True, slots=True)
class DonorFit:
    """A part of one maker's model that was tried on another's."""

    part: str
    off: str
    onto: str
    fits: int
    does_not: int
    last_at: datetime


def part_name(parts: Iterable[Part], code: str, place: str) -> str:
    """Say a part as a tech does: "third valve slide", "piston 2"."""
    part = next((one for one in parts if one.code == code), None)
    if part is None:
        return code.replace("_", " ")
    return f"{part.name} {part.place_name(place)}".strip()


def _set_name(matched: MatchedSet, count: int) -> str:
    return gettext("%(name)s, %(count)d as a set") % {"name": matched.name, "count": count}


def offers_of(horn: PartsHorn) -> tuple[Offer, ...]:
    """Return what is left along the air path, sets as one. Two queries."""
    parts = horn.instrument.parts
    taken = [(one.part, one.place) for one in horn.taken.all()]
    left = takeable(parts, roles=catalog().roles, taken=taken)
    return tuple(_offers(parts, left=left, trouble=_troubles(horn.instrument)))


def _offers(
    parts: tuple[Part, ...], *, left: tuple[tuple[str, str], ...], trouble: dict[tuple[str, str], str]
) -> Iterator[Offer]:
    shown: set[tuple[str, str]] = set()
    for code, place in left:
        matched = set_of(parts, part=code, sets=catalog().fitted_sets)
        members = matched.members if matched else ((code, place),)
        if (code, place) in shown:
            continue
        shown.update(members)
        words = [trouble[one] for one in ((c, p) for m in members for c, p in (m, (m[0], ""))) if one in trouble]
        yield Offer(
            key=f"{code}:{place}",
            name=_set_name(matched, len(members)) if matched else part_name(parts, code, place),
            trouble="; ".join(dict.fromkeys(words)),
            set_because=matched.because if matched else "",
        )


def _troubles(instrument: Instrument) -> dict[tuple[str, str], str]:
    parts = {part.code: part for part in instrument.parts}
    return {
        (fact.part, fact.place): finding_name(finding=fact, part=parts.get(fact.part), faults=catalog().faults)
        for fact in standing_findings(instrument)
    }


def parts_horn_page(horn: PartsHorn) -> PartsHornPage:
    """Return it with what it has and what it gave. Three queries."""
    groups: dict[Any, list[TakenPart]] = {}
    for one in taken_from(horn):
        groups.setdefault(one.batch, []).append(one)
    lines = tuple(
        TakenLine(first=group[0], names=_names(horn.instrument.parts, group), fit=group[0].get_fit_display())
        for group in groups.values()
    )
    return PartsHornPage(horn=horn, offers=offers_of(horn), taken=lines)


def _names(parts: tuple[Part, ...], group: list[TakenPart]) -> str:
    if len(group) > 1:
        matched = set_of(parts, part=group[0].part, sets=catalog().fitted_sets)
        return _set_name(matched, len(group)) if matched else gettext("%(count)d parts") % {"count": len(group)}
    return part_name(parts, group[0].part, group[0].place)


def donor_fits(*, kind: str = "") -> list[DonorFit]:
    """Return what is known about parts of one model on another, across the district; a set counts once. One query."""
    tries: dict[tuple[str, str, str], Counter[str]] = {}
    last: dict[tuple[str, str, str], datetime] = {}
    seen: set[Any] = set()
    for row in fits_noted(kind=kind):
        if row.batch in seen:
            continue
        seen.add(row.batch)
        off, onto = row.parts_horn.instrument, row.onto
        matched = set_of(off.parts, part=row.part, sets=catalog().fitted_sets)
        key = (matched.name if matched else part_name(off.parts, row.part, ""), _model(off), _model(onto))
        tries.setdefault(key, Counter())[row.fit] += 1
        last.setdefault(key, row.taken_at)
    return [
        DonorFit(
            part=part, off=off, onto=onto, fits=counts["fits"], does_not=counts["does_not"], last_at=last[part, off, onto]
        )
        for (part, off, onto), counts in sorted(tries.items())
    ]  # fmt: skip


def _model(instrument: Instrument) -> str:
    return " ".join(word for word in (instrument.maker, instrument.model) if word) or gettext("maker unknown")
