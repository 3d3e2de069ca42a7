"""What every single fault of an instrument would do to its notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart, Rest
from inventory.catalog.schema import Effect, Fault, Kind, Part, Role, Severity
from inventory.rules.facts import FindingFact
from inventory.rules.playing import playing
from inventory.rules.playing.readings import MISSING, effect_of

UNLIKELY = 100  # ranks a fault behind every likelier one
HEARD = frozenset({Effect.BENDS_PITCH, Effect.LOSES_NOTES, Effect.STOPS_SOUND})


@dataclass(frozen=True, slots=True)
class Prediction:
    """One fault at one place, and the notes of a level that it spoils."""

    finding: FindingFact
    notes: frozenset[str]  # written
    order: tuple[int, int, int]  # how severe it has to be, likelihood of the fault at its role, place in the walk


def predictions(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str,
) -> tuple[Prediction, ...]:
    """Return the faults that spoil a note of the level, each place and each severity that differs on its own.

    A tester plays usual fingerings and may or may not try others, so brass faults are predicted both ways. What the
    instrument is off at by its make is not held against a fault.
    """
    healthy = playing(kind=kind, chart=chart, options=options, findings=(), level=level)
    by_make = {note.written for note in healthy.notes if note.is_spoiled}
    found: dict[tuple[str, str, str, frozenset[str]], Prediction] = {}
    if not healthy.notes:
        return ()
    for finding, part, order in _every_fault(kind=kind, chart=chart, options=options, roles=roles):
        effect = effect_of(finding, part=part, faults=faults, roles=roles)
        if effect not in HEARD and finding.fault != "slide_seized":
            continue
        for is_standard in (False, True) if isinstance(chart, BrassChart) else (False,):
            report = playing(
                kind=kind,
                chart=chart,
                options=options,
                findings=(finding,),
                level=level,
                faults=faults,
                roles=roles,
                standard_only=is_standard,
            )
            notes = frozenset(note.written for note in report.notes if note.is_spoiled) - by_make
            if notes:
                found.setdefault((finding.part, finding.place, finding.fault, notes), Prediction(finding, notes, order))
    return tuple(found.values())


def _every_fault(
    *, kind: Kind, chart: Chart | None, options: Mapping[str, str], roles: Mapping[str, Role]
) -> Iterator[tuple[FindingFact, Part, tuple[int, int, int]]]:
    bare = {hole.id for hole in chart.holes if hole.rest is Rest.FINGER} if isinstance(chart, HoleChart) else set()
    for walk, part in enumerate(kind.parts_for(options)):
        for likelihood, fault in enumerate(roles[part.role].faults):
            for place in [place.code for place in part.places] or [""]:
                is_odd = place in bare and fault.startswith(("pad", "key", "spring"))  # a bare hole has no pad
                is_odd = is_odd or fault == MISSING  # somebody would have seen it
                for severity in Severity:
                    yield (
                        FindingFact(part=part.code, place=place, fault=fault, severity=severity),
                        part,
                        (severity.rank + (UNLIKELY if is_odd else 0), likelihood, walk),
                    )
