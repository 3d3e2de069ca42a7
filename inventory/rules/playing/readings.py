"""Turn findings into what they do to the air path: which valve, which slide, which effect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.schema import MISSING_PART, Effect, Fault, FaultWay, Kind, Part, Role, RoleTag, Severity
from inventory.rules.facts import Detail, DetailWord, FindingFact, read_detail

LOOKS, RISKS, SLOWS, BENDS, LOSES, STOPS, UNSAFE = tuple(Effect)

RING_PLACE = "third_slide_ring"
_VALVES = {"first": "1", "second": "2", "third": "3", "fourth": "4", "thumb": "T", "attachment": "T", "t": "T"}
_VALVES |= {number: number for number in "1234"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One finding, as the models see it."""

    index: int
    finding: FindingFact
    part: Part
    effects: tuple[Effect, ...]
    valve: str  # "1" to "4", "T" for a thumb or trigger valve, "" if it belongs to no single valve
    side: str  # "F" or "Bb" where the part belongs to one side of a double horn, else ""
    detail: Detail
    tags: tuple[RoleTag, ...] = ()  # of the part's role
    ways: tuple[FaultWay, ...] = ()
    lightest: tuple[Effect, ...] = ()  # of its fault in the lightest form
    lost: str = ""  # what a player can no longer do where the part fails

    @property
    def stops(self) -> bool:
        return STOPS in self.effects

    @property
    def loses(self) -> bool:
        return LOSES in self.effects

    @property
    def bends(self) -> bool:
        return BENDS in self.effects

    @property
    def is_gone(self) -> bool:
        """The part is not there."""
        return self.finding.fault == MISSING_PART

    @property
    def is_ring(self) -> bool:
        """It is at the finger ring of the third slide, by its place or by what the finding says."""
        return self.finding.place == RING_PLACE or DetailWord.RING in self.detail.words

    @property
    def is_on_air_path(self) -> bool:
        return self.part.in_bore or RoleTag.SEALS in self.tags

    @property
    def is_fixed(self) -> bool:
        """It keeps a slide from moving while someone plays: seized, whatever the severity, or a leg badly dented."""
        return FaultWay.FIXES in self.ways or (FaultWay.HALTS in self.ways and self.loses)

    @property
    def is_set(self) -> bool:
        """The slide cannot be set for tuning either: no hard pull moves it."""
        return self.is_fixed and any(effect.sort == "sound" for effect in self.effects)

    def lacks_spring(self, role: str) -> bool:
        """Nothing brings the valve or key back; ``role`` is that of the springs of such an instrument."""
        return FaultWay.UNSPRUNG in self.ways or (self.is_gone and self.part.role == role)


def effects_of(
    finding: FindingFact, *, part: Part, faults: Mapping[str, Fault], roles: Mapping[str, Role]
) -> tuple[Effect, ...]:
    """Return the effects that the catalog gives a finding, before any note is computed.

    A fault or a role that the catalog no longer has does nothing, or is a risk where the part is missing.
    """
    if finding.fault == MISSING_PART:
        return (roles[part.role].missing if part.role in roles else RISKS,)
    return faults[finding.fault].effects[finding.severity] if finding.fault in faults else (LOOKS,)


def read_findings(
    *,
    kind: Kind,
    options: Mapping[str, str],
    findings: Sequence[FindingFact],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
) -> tuple[Reading, ...]:
    """Return a reading per finding. Findings at parts that this instrument does not have say nothing."""
    parts = {part.code: part for part in kind.parts_for(options)}
    return tuple(
        _reading(index, finding, part=parts[finding.part], faults=faults, roles=roles)
        for index, finding in enumerate(findings)
        if finding.part in parts
    )


def _reading(
    index: int, finding: FindingFact, *, part: Part, faults: Mapping[str, Fault], roles: Mapping[str, Role]
) -> Reading:
    fault, role = faults.get(finding.fault), roles.get(part.role)
    return Reading(
        index=index,
        finding=finding,
        part=part,
        effects=effects_of(finding, part=part, faults=faults, roles=roles),
        valve=valve_of(part, place=finding.place),
        side=side_of(part, place=finding.place),
        detail=read_detail(finding.detail),
        tags=role.tags if role else (),
        ways=fault.ways if fault else (),
        lightest=fault.effects[Severity.LIGHT] if fault else (),
        lost=role.lost_at(part, place=finding.place) if role else "",
    )


def valve_of(part: Part, *, place: str) -> str:
    """Return the valve that a part, or a place at it, belongs to: "1" to "4", "T", or ""."""
    words = f"{place}_{part.valve}_{part.code}".casefold().split("_")
    return next((_VALVES[word] for word in words if word in _VALVES), "")


def side_of(part: Part, *, place: str) -> str:
    """Return the side of a double horn that a part (or a place at it) belongs to."""
    words = f"{part.code}_{place}".casefold().split("_")
    if "bb" in words:
        return "Bb"
    return "F" if "f" in words and "attachment" not in words else ""
