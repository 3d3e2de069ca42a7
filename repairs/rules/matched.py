"""Parts that were fitted to each other and stay together when an instrument is used for parts."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from core.translation import gettext as _
from inventory.catalog.schema import MISSING_PART, FittedSet, Part, Role, RoleTag
from inventory.rules.facts import FindingFact

Spot = tuple[str, str]  # a part and its place; a part without places has the place ""


@dataclass(frozen=True, slots=True)
class MatchedSet:
    """Parts that go together, and why."""

    name: str
    because: str
    members: tuple[Spot, ...]


def places_of(part: Part) -> tuple[Spot, ...]:
    """Return what can be taken of a part: each of its places, or the part."""
    return tuple((part.code, place.code) for place in part.places) or ((part.code, ""),)


def missing_spots(findings: Iterable[FindingFact]) -> frozenset[Spot]:
    """Return what is not there: a part, or with the place "" all of it."""
    return frozenset((fact.part, fact.place) for fact in findings if fact.fault == MISSING_PART)


def takeable(
    parts: Sequence[Part], *, roles: Mapping[str, Role], missing: Collection[Spot] = frozenset()
) -> tuple[Spot, ...]:
    """Return the parts that can still be taken off an instrument, along its air path."""
    free = (part for part in parts if RoleTag.STAYS_ON not in roles[part.role].tags)
    return still_there((one for part in free for one in places_of(part)), missing=missing)


def still_there(spots: Iterable[Spot], *, missing: Collection[Spot]) -> tuple[Spot, ...]:
    return tuple(one for one in spots if one not in missing and (one[0], "") not in missing)


def set_of(parts: Sequence[Part], *, part: str, sets: Mapping[str, FittedSet]) -> MatchedSet | None:
    """Return the set that a part belongs to, or None for one that goes alone."""
    role = next((one.role for one in parts if one.code == part), "")
    for fitted in sets.values():
        if role in fitted.roles:
            members = tuple(one for other in parts if other.role in fitted.roles for one in places_of(other))
            return MatchedSet(fitted.name, fitted.because, members) if len(members) > 1 else None
    return None


def lacking(spots: Iterable[Spot], *, parts: Iterable[Part]) -> tuple[Spot, ...]:
    """Return what of these an instrument with those parts has no place for."""
    there = {spot for part in parts for spot in places_of(part)}
    return tuple(one for one in spots if one not in there)


def part_words(parts: Iterable[Part], code: str, place: str) -> str:
    """Say a part as a tech does: "third valve slide", "piston 2"."""
    part = next((one for one in parts if one.code == code), None)
    if part is None:
        return code.replace("_", " ")
    return f"{part.name} {part.place_name(place)}".strip()


def spots_words(parts: Sequence[Part], spots: Sequence[Spot], *, sets: Mapping[str, FittedSet]) -> str:
    """Say what goes together: a part by its name, more of them by that of their set and how many."""
    if len(spots) == 1:
        return part_words(parts, *spots[0])
    matched = set_of(parts, part=spots[0][0], sets=sets)
    if matched is None:
        return _("%(count)s parts", count=len(spots))
    return _("%(name)s, %(count)s as a set", name=matched.name, count=len(spots))
