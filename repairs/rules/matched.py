"""Parts that were fitted to each other and stay together when a horn gives its parts away."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.catalog.schema import Part


@dataclass(frozen=True, slots=True)
class MatchedSet:
    """Members are (part code, place code); a part without places has the place ""."""

    name: str
    because: str
    members: tuple[tuple[str, str], ...]


# Common practice, no source.
SETS: tuple[tuple[str, frozenset[str], str], ...] = (
    ("pistons", frozenset({"piston"}), "each was lapped to its own casing and they wear alike"),
    (
        "rotors with their bearings",
        frozenset({"rotor", "bearing"}),
        "a rotor turns only in the bearing it was fitted to",
    ),
    (
        "hand slide",
        frozenset({"hand_slide_inner", "hand_slide_outer"}),
        "inner and outer tubes were aligned as a pair",
    ),
    ("keys", frozenset({"key", "pad", "octave_mech"}), "keys were swedged between their own posts"),
)
# Roles that nobody takes off another horn: not a thing of its own, or worn and bought new anyway.
STAYS_ON = frozenset({
    "finish", "tone_hole", "solder_joint", "seam", "spring", "felt", "cork", "key_cork", "neck_cork", "barrel_cork",
    "head_cork", "cord", "gasket", "bumper", "reed", "string",
})  # fmt: skip


def places_of(part: Part) -> tuple[tuple[str, str], ...]:
    """Return what can be taken of a part: each of its places, or the part."""
    return tuple((part.code, place.code) for place in part.places) or ((part.code, ""),)


def takeable(parts: Sequence[Part], *, taken: Iterable[tuple[str, str]] = ()) -> tuple[tuple[str, str], ...]:
    """Return what a horn still has to give, along its air path."""
    gone = set(taken)
    return tuple(one for part in parts if part.role not in STAYS_ON for one in places_of(part) if one not in gone)


def set_of(parts: Sequence[Part], *, part: str) -> MatchedSet | None:
    """Return the set that a part belongs to, or None for one that goes alone."""
    role = next((one.role for one in parts if one.code == part), "")
    for name, roles, because in SETS:
        if role in roles:
            members = tuple(one for other in parts if other.role in roles for one in places_of(other))
            return MatchedSet(name=name, because=because, members=members) if len(members) > 1 else None
    return None
