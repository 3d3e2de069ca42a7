"""What every single fault of an instrument would do to its notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from inventory.catalog.chart_schema import Chart, HoleChart, Rest, SlideChart
from inventory.catalog.schema import MISSING_PART, Effect, Fault, FaultWay, Kind, Part, Role, RoleTag, Severity
from inventory.rules.facts import FindingFact
from inventory.rules.playing import NoteResult, NoteState, playing
from inventory.rules.playing.holes import LINK, links_of
from inventory.rules.playing.readings import effects_of
from inventory.rules.playing.slides import POSITION, POSITIONS

UNLIKELY = 100  # ranks a fault behind every likelier one
# What to check first when an instrument does not sound at all, in this order: the trade's triage (common practice, no
# source).
SILENT_FIRST = ("valve_swapped", "foreign_object", "pad_missing", "water_key_spring")
AUDIBLE = frozenset({Effect.BENDS_PITCH, Effect.LOSES_NOTES, Effect.STOPS_SOUND})


@dataclass(frozen=True, slots=True)
class Prediction:
    """One fault at one place, and the notes of a level that it spoils."""

    finding: FindingFact
    notes: frozenset[str]  # written
    order: tuple[int, int, int, int]  # triage, how severe it has to be, likelihood at its role, place in the walk
    dead: frozenset[str] = frozenset()  # of the notes, those that do not sound at all
    weak: frozenset[str] = frozenset()  # of the notes, those that a leak weakens; the rest are out of tune

    @property
    def likelihood(self) -> int:
        """Its place in the list of faults of its role, the most likely first."""
        return self.order[2]


@dataclass(frozen=True, slots=True)
class Survey:
    """Every fault of a kind that is heard by its effect, tried on the notes of a level."""

    predictions: tuple[Prediction, ...]
    silent: tuple[FindingFact, ...]  # those that spoil none of these notes, in their worst form: playing cannot tell


def survey(
    kind: Kind,
    level: str,
    *,
    chart: Chart | None,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
) -> Survey:
    """Return the faults that spoil a note of the level, each place and each severity that differs on its own.

    So does a valve that stays down instead of up, each position that a hand slide may stop at, and each key whose link
    to a pad may be out of regulation.

    A tester plays usual fingerings and may or may not try others, so faults are predicted both ways. What the
    instrument is off at by its make is not held against a fault.
    """
    report = partial(playing, kind=kind, chart=chart, options=options, level=level, faults=faults, roles=roles)
    healthy = report(findings=()).notes
    usual = {note.written: note.fingering for note in healthy}
    by_make = {note.written: note.state for note in healthy if note.is_spoiled}
    found: dict[tuple[str, str, str, frozenset[str], frozenset[str]], Prediction] = {}
    silent: dict[tuple[str, str, str], FindingFact] = {}
    for finding, part, order in _every_fault(kind, chart=chart, options=options, roles=roles) if healthy else ():
        effects = effects_of(finding, part=part, faults=faults, roles=roles)
        if AUDIBLE.isdisjoint(effects) and FaultWay.FIXES not in faults[finding.fault].ways:
            continue
        links = links_of(chart, hole=finding.place) if isinstance(chart, HoleChart) else ()
        if FaultWay.UNLINKS in faults[finding.fault].ways and finding.place and not links:
            continue  # nothing is linked there
        if order[0] < UNLIKELY:
            silent[finding.part, finding.place, finding.fault] = finding
        triage = len(SILENT_FIRST)
        if Effect.STOPS_SOUND in effects and finding.fault in SILENT_FIRST and order[0] < UNLIKELY:
            triage = SILENT_FIRST.index(finding.fault)
        details = _details(faults[finding.fault], role=roles[part.role], chart=chart, links=links)
        for detail in details:
            detailed = replace(finding, detail=detail)
            reports = [report(findings=(detailed,)).notes]
            if any(note.fingering not in {"", usual[note.written]} for note in reports[0]):
                reports.append(report(findings=(detailed,), standard_only=True).notes)
            for notes in reports:
                one = _prediction(
                    detailed,
                    spoiled=[note for note in notes if note.is_spoiled and by_make.get(note.written) is not note.state],
                    order=(triage, *order),
                )
                if one.notes:
                    found.setdefault((finding.part, finding.place, finding.fault, one.notes, one.dead), one)
    noted = {(part, place, fault) for part, place, fault, _, _ in found}
    return Survey(tuple(found.values()), tuple(one for key, one in silent.items() if key not in noted))


def _prediction(finding: FindingFact, *, spoiled: Sequence[NoteResult], order: tuple[int, int, int, int]) -> Prediction:
    return Prediction(
        finding=finding,
        notes=frozenset(note.written for note in spoiled),
        order=order,
        dead=frozenset(note.written for note in spoiled if note.state is NoteState.LOST),
        weak=frozenset(note.written for note in spoiled if note.is_weak),
    )


def _details(fault: Fault, *, role: Role, chart: Chart | None, links: Sequence[str]) -> tuple[str, ...]:
    """Return what a finding may say further that changes the notes it spoils; the likeliest first."""
    if isinstance(chart, SlideChart) and RoleTag.HAND_SLIDE in role.tags:
        return ("", *(f"{POSITION}{place}" for place in range(POSITIONS - 1, 0, -1)))
    if FaultWay.UNLINKS in fault.ways:
        return ("", *(f"{LINK}{key}" for key in links))
    return ("", "down") if FaultWay.HOLDS in fault.ways and not isinstance(chart, HoleChart) else ("",)


def _every_fault(
    kind: Kind, *, chart: Chart | None, options: Mapping[str, str], roles: Mapping[str, Role]
) -> Iterator[tuple[FindingFact, Part, tuple[int, int, int]]]:
    bare = {hole.id for hole in chart.holes if hole.rest is Rest.FINGER} if isinstance(chart, HoleChart) else set()
    for walk, part in enumerate(kind.parts_for(options)):
        for likelihood, fault in enumerate((*roles[part.role].faults, *part.faults)):
            for place in [place.code for place in part.places] or [""]:
                is_odd = place in bare and fault.startswith(("pad", "key", "spring"))  # a bare hole has no pad
                is_odd = is_odd or fault == MISSING_PART  # somebody would have seen it
                for severity in Severity:
                    yield (
                        FindingFact(part=part.code, place=place, fault=fault, severity=severity),
                        part,
                        (severity.rank + (UNLIKELY if is_odd else 0), likelihood, walk),
                    )
