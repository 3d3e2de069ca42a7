"""What an instrument is made of, and what can go wrong there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from inventory.catalog.schema.entries import Entry, Selective, Sourced
from inventory.catalog.schema.words import (
    Bath,
    Cause,
    Effect,
    Effects,
    FaultWay,
    In,
    Origin,
    RoleTag,
    Severity,
    Texts,
    Wet,
)

MISSING_PART = "missing_part"  # the fault of a part that is not there


@dataclass(frozen=True, slots=True)
class Place(Selective):
    """One of several like things at a part: a pad, a valve. Woodwind codes are the hole ids of the chart."""

    code: str
    name: str
    aliases: Texts = ()
    only_with: str = ""  # "option=choice" that an instrument must have to own this place ("valves=4"), or ""
    joins: Texts = ()  # of one brace: codes of the parts that it holds together


@dataclass(frozen=True, slots=True)
class Part(Selective):
    """A stop on the inspection walk, in air-path order."""

    code: str  # snake case, after the part's name: third_valve_slide, main_tuning_slide, piston
    name: str  # as said: "third valve slide"
    role: Annotated[str, In("roles")]
    look_for: Texts = ()
    faults: Annotated[Texts, In("faults")] = ()  # that it can have besides those of its role
    comes_off_if: Annotated[str, In("features")] = ""  # of kinds where it comes off, so that it can be missing; else ""
    test: str = ""
    wet: Wet = Wet.NO
    wet_note: str = ""
    bath: Bath = Bath.NONE
    places: tuple[Place, ...] = ()
    aliases: Texts = ()
    drawn_on: str = ""  # code of the part this one branches off in the drawing (a valve slide off its piston), or ""
    in_bore: bool = True  # the air passes through it (False: case, finish, braces, levers)
    only_with: str = ""  # "option=choice" that an instrument must have to own this part, or ""
    valve: str = ""  # the valve that opens this slide ("3"), where the part is one slide; else ""
    joins: Texts = ()  # of braces whose place nobody named: codes of the parts that they hold together
    reaches: Texts = ()  # codes of the parts that a pull, twist or blow on it loads besides itself
    # How the layout lays it out:
    follows: str = ""  # a district's own part comes right after this one
    places_of: Texts = ()  # its places are those of these parts: springs
    bars: Literal["", "naturals", "accidentals"] = ""  # its places are bars over the kind's range

    @property
    def repeats_places(self) -> bool:
        """Whether its places belong to other parts: a place named alone means the other part."""
        return bool(self.places_of)

    def place_name(self, place: str) -> str:
        """Return what a place of it is called, or the code itself where it has no such place."""
        return next((one.name for one in self.places if one.code == place), place)

    def at(self, place: str) -> str:
        """Name it with one of its places: "third valve slide", "pistons, valve 2"."""
        spot = self.place_name(place)
        return f"{self.name}, {spot}" if spot else self.name


@dataclass(frozen=True, slots=True)
class Layout(Sourced):
    """The parts in air-path order that kinds share; each kind takes those that fit it."""

    parts: tuple[Part, ...]
    features: Annotated[Texts, In("features")] = ()  # of every kind with this layout
    silhouette: str = ""  # of the kinds that name none
    outline: str = ""  # the drawing of its kinds that say none of their own


@dataclass(frozen=True, slots=True)
class Role(Entry):
    """What a part does; the join between parts, faults and methods."""

    faults: Annotated[Texts, In("faults")]  # most likely first; MISSING_PART only where such a part can be missing
    missing: Effect  # what the absence of such a part does
    accepts: Annotated[Texts, In("faults")] = ()  # faults that older records have here: taken, no longer offered
    tags: tuple[RoleTag, ...] = ()
    # What a player can no longer do when it fails; "": its notes show that. With {part}, {where} (its place, if known)
    # or {place}, the place's code, which districts' folders may still say.
    lost: str = ""

    def lost_at(self, part: Part, *, place: str) -> str:
        """Return what is lost where this part fails."""
        return self.lost.format(part=part.name, where=part.place_name(place) or part.name, place=place or "broken")


def has_tag(part: Part, tag: RoleTag, *, roles: Mapping[str, Role]) -> bool:
    """Whether the role of a part has a tag; a role that the catalog no longer has has none."""
    role = roles.get(part.role)
    return role is not None and tag in role.tags


@dataclass(frozen=True, slots=True)
class FittedSet(Entry):
    """Parts that were fitted to each other and stay together when an instrument gives its parts away."""

    roles: Annotated[Texts, In("roles")]
    because: str


@dataclass(frozen=True, slots=True)
class NeverIssue(Selective):
    """Where a fault keeps an instrument in until it is repaired: what can fall, cut or break further within one loan."""

    because: str
    severities: tuple[Severity, ...] = tuple(Severity)
    roles: Annotated[Texts, In("roles")] = ()  # empty: at any part
    parts: Texts = ()  # codes of parts; empty: any part
    origin: Origin = Origin.DEFAULT

    def holds(self, part: Part, severity: Severity) -> bool:
        return (
            severity in self.severities
            and (not self.roles or part.role in self.roles)
            and (not self.parts or part.code in self.parts)
        )


@dataclass(frozen=True, slots=True)
class Fault(Entry):
    """What can be wrong at a part."""

    effects: Mapping[Severity, Effects]
    words: Mapping[Severity, str]  # what light / moderate / severe mean for this fault
    test: str  # what to do to find out
    accept: str  # when it is good enough
    cause: Cause
    cost_of_harm: str = ""
    ways: tuple[FaultWay, ...] = ()
    never_issue: tuple[NeverIssue, ...] = ()  # the first that fits counts

    def worst(self, severity: Severity) -> Effect:
        """Return the worst of the effects at a severity."""
        return max(self.effects[severity], key=tuple(Effect).index)
