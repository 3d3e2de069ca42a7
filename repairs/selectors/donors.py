"""Horns kept for parts: what they still have, what went where, and what is known to fit what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count

from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.models import Finding, Instrument
from inventory.rules.verdict import finding_name
from repairs.models import PartsHorn, TakenPart
from repairs.rules.matched import set_of, takeable


@dataclass(frozen=True, slots=True)
class Offer:
    """Something a parts horn still has. ``key`` is "part:place"; a set is offered as one, under its first member."""

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


def part_name(parts: Iterable[Part], code: str, place: str) -> str:
    """Say a part as the trade does: "third valve slide", "piston 2"."""
    part = next((one for one in parts if one.code == code), None)
    if part is None:
        return code.replace("_", " ")
    return f"{part.name} {part.place_name(place)}".strip()


def offers_of(horn: PartsHorn) -> tuple[Offer, ...]:
    """Return what is left on a parts horn along its air path, sets as one. Two queries."""
    parts = horn.instrument.parts
    trouble = troubles_of(horn.instrument)
    taken = [(one.part, one.place) for one in horn.taken.all()]
    return tuple(_offers(parts, left=takeable(parts, roles=catalog().roles, taken=taken), trouble=trouble))


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
            name=f"{matched.name}, {len(members)} as a set" if matched else part_name(parts, code, place),
            trouble="; ".join(dict.fromkeys(words)),
            set_because=matched.because if matched else "",
        )


def troubles_of(instrument: Instrument) -> dict[tuple[str, str], str]:
    """Return what stands against each part and place. One query."""
    trade, words = catalog(), {}
    parts = {part.code: part for part in instrument.parts}
    for fact in Finding.objects.filter(instrument=instrument).standing().facts():
        words[fact.part, fact.place] = finding_name(finding=fact, part=parts.get(fact.part), faults=trade.faults)
    return words


def parts_horn_page(horn: PartsHorn) -> PartsHornPage:
    """Return a parts horn with what it has and what it gave. Three queries."""
    parts = horn.instrument.parts
    groups: dict[Any, list[TakenPart]] = {}
    for one in horn.taken.select_related("onto", "taken_by", "job").order_by("-taken_at", "pk"):
        groups.setdefault(one.batch, []).append(one)
    lines = tuple(
        TakenLine(
            first=group[0],
            names=_names(parts, group),
            fit=group[0].get_fit_display(),
        )
        for group in groups.values()
    )
    return PartsHornPage(horn=horn, offers=offers_of(horn), taken=lines)


def _names(parts: tuple[Part, ...], group: list[TakenPart]) -> str:
    if len(group) > 1:
        matched = set_of(parts, part=group[0].part, sets=catalog().fitted_sets)
        return f"{matched.name}, {len(group)} as a set" if matched else f"{len(group)} parts"
    return part_name(parts, group[0].part, group[0].place)


@dataclass(frozen=True, slots=True)
class DonorFit:
    """A part of one maker's model that was tried on another's."""

    part: str
    off: str
    onto: str
    fits: int
    does_not: int
    last_at: datetime


def donor_fits(*, kind: str = "") -> list[DonorFit]:
    """Return what the shop has learned about parts of one model on another, across the district. One query.

    A set counts once.
    """
    rows = TakenPart.objects.exclude(fit="").select_related("parts_horn__instrument", "onto")
    if kind:
        rows = rows.filter(onto__kind_code=kind)
    tries: dict[tuple[str, str, str], Counter[str]] = {}
    last: dict[tuple[str, str, str], datetime] = {}
    seen: set[Any] = set()
    for row in rows.order_by("-taken_at", "pk"):
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
    return " ".join(word for word in (instrument.maker, instrument.model) if word) or "maker not known"


def parts_horns_for_list(user: Any) -> list[PartsHorn]:
    """Return the standing parts horns that the user may see, with how much each has given. One query."""
    rows = PartsHorn.objects.visible_to(user).standing().select_related("instrument__school")
    return list(rows.annotate(given=Count("taken")).order_by("instrument__kind_code", "instrument__asset_number"))
