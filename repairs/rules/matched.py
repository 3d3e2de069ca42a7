"""Parts that were fitted to each other and stay together when an instrument is used for parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.schema import FittedSet, Part, Role, RoleTag


@dataclass(frozen=True, slots=True)
class MatchedSet:
    """Members are (part code, place code); a part without places has the place ""."""

    name: str
    because: str
    members: tuple[tuple[str, str], ...]


def places_of(part: Part) -> tuple[tuple[str, str], ...]:
    """Return what can be taken of a part: each of its places, or the part."""
    return tuple((part.code, place.code) for place in part.places) or ((part.code, ""),)


def takeable(
    parts: Sequence[Part], *, roles: Mapping[str, Role], taken: Iterable[tuple[str, str]] = ()
) -> tuple[tuple[str, str], ...]:
    """Return the parts that can still be taken off an instrument, along its air path."""
    gone = set(taken)
    free = (part for part in parts if RoleTag.STAYS_ON not in roles[part.role].tags)
    return tuple(one for part in free for one in places_of(part) if one not in gone)


def set_of(parts: Sequence[Part], *, part: str, sets: Mapping[str, FittedSet]) -> MatchedSet | None:
    """Return the set that a part belongs to, or None for one that goes alone."""
    role = next((one.role for one in parts if one.code == part), "")
    for fitted in sets.values():
        if role in fitted.roles:
            members = tuple(one for other in parts if other.role in fitted.roles for one in places_of(other))
            return MatchedSet(fitted.name, fitted.because, members) if len(members) > 1 else None
    return None
