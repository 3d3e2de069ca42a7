"""Notes of keyed woodwinds: a fingering needs some holes shut and some open, and a finding keeps one from either.

What a fault does to a hole, where the trade leaves it open (from memory):

* a leak spoils every note that needs the hole shut: weak ("off") when light, lost from moderate on;
* a broken spring: a key that it held shut hangs open, a key that it held open hangs shut;
* a key that binds stays as it rests: one that rests open no longer shuts, one that rests shut no longer opens;
* a sticky pad that rests shut opens too late, and one that rests open stays down;
* regulation: two holes that one key shuts no longer land together, so both count as leaking when that key is pressed;
* a finding on the body (a crack, a tenon) spoils the notes whose air column passes it: lost at a joint of the chart,
  weak elsewhere, because how much a crack leaks no table can say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.catalog.chart_schema import Fingering, HoleChart, Rest
from inventory.catalog.schema import MISSING_PART, FaultWay, Part
from inventory.rules.playing.readings import BENDS, Reading
from inventory.rules.playing.reports import NoteResult, NoteState


@dataclass(slots=True)
class HoleTrouble:
    """What the findings do: hole -> [(finding, it loses the note rather than weakens it)]."""

    stopped: list[int] = field(default_factory=list)
    leaks: dict[str, list[tuple[int, bool]]] = field(default_factory=dict)
    shut: dict[str, list[tuple[int, bool]]] = field(default_factory=dict)  # will not open
    links: list[tuple[int, bool, str, frozenset[str]]] = field(default_factory=list)  # finding, loses, key, holes
    column: list[tuple[int, bool, int]] = field(default_factory=list)  # finding, loses, index of the hole behind it


class HoleModel:
    """The fingerings of one woodwind, and what findings leave of them."""

    def __init__(self, *, chart: HoleChart, parts: Sequence[Part], readings: Sequence[Reading]) -> None:
        self.chart = chart
        self.index = {hole.id: number for number, hole in enumerate(chart.holes)}
        self.rest = {hole.id: hole.rest for hole in chart.holes}
        self.behind = column_positions(chart=chart, parts=parts)
        self.trouble = HoleTrouble()
        for reading in readings:
            self._sort(reading)

    def _sort(self, reading: Reading) -> None:
        loses, holes = reading.loses, self.holes_of(reading)
        if reading.stops:
            self.trouble.stopped.append(reading.index)
        elif holes and (loses or (reading.effect is BENDS and FaultWay.LEAKS in reading.ways)):
            for hole in holes:
                self._sort_hole(reading, hole=hole, loses=loses)
        elif loses and reading.is_on_air_path and not reading.part.places and not reading.part.repeats_places:
            self.trouble.column.append((reading.index, False, self.behind[reading.part.code]))

    def holes_of(self, reading: Reading) -> tuple[str, ...]:
        """Return the holes a finding is at: its place, or all of its part's where it names none.

        A part that only repeats the places of others (springs, posts) says nothing without a place.
        """
        part, place = reading.part, reading.finding.place
        if place:
            return (place,) if place in self.index else ()
        if part.code in self.chart.joints:
            return (self.chart.joints[part.code],)
        if part.code in self.index:
            return (part.code,)
        if part.repeats_places:
            return ()
        return tuple(place.code for place in part.places if place.code in self.index)

    def _sort_hole(self, reading: Reading, *, hole: str, loses: bool) -> None:
        fault, ways, rest, trouble = reading.finding.fault, reading.ways, self.rest[hole], self.trouble
        entry = (reading.index, loses)
        is_shut_at_rest = rest is Rest.CLOSED
        is_unsprung = FaultWay.UNSPRUNG in ways or (fault == MISSING_PART and reading.part.role == "spring")
        if FaultWay.UNLINKS in ways:
            for key, ids in self.chart.closes.items():
                if hole in ids and len(ids) > 1:
                    trouble.links.append((*entry, key, frozenset(ids)))
            trouble.leaks.setdefault(hole, []).append((reading.index, False))
        elif (
            (FaultWay.STICKS in ways and rest is not Rest.FINGER)
            or (FaultWay.BINDS in ways and is_shut_at_rest)
            or (is_unsprung and rest is Rest.OPEN)
        ):
            trouble.shut.setdefault(hole, []).append(entry)
        else:
            trouble.leaks.setdefault(hole, []).append(entry)

    def troubles(self, fingering: Fingering) -> list[tuple[int, bool]]:
        """Return the findings that spoil a fingering, each with whether it loses the note."""
        trouble = self.trouble
        found = [(index, True) for index in trouble.stopped]
        for hole in fingering.must_seal:
            found += trouble.leaks.get(hole, ())
        for hole in fingering.must_open:
            found += trouble.shut.get(hole, ())
        for index, loses, key, holes in trouble.links:
            if key in fingering.keys and not holes.isdisjoint(fingering.must_seal):
                found.append((index, loses))
        end = self.index.get(fingering.sounds_from, len(self.index))
        found += [(index, loses) for index, loses, behind in trouble.column if behind <= end]
        return found

    def note(self, written: str, *, sounding: int, standard_only: bool) -> NoteResult:
        """Return what becomes of one note: the usual fingering if it works, else the best of the others."""
        fingerings = self.chart.fingerings[written][: 1 if standard_only else None]
        results = [(fingering, self.troubles(fingering)) for fingering in fingerings]
        clean = next((fingering for fingering, found in results if not found), None)
        if clean is not None:
            is_usual = clean is fingerings[0]
            because = () if is_usual else tuple(sorted({index for index, _ in results[0][1]}))
            state = NoteState.USUAL if is_usual else NoteState.OTHER_FINGERING
            return NoteResult(written, sounding, state, clean.words, 0.0, because)
        because = tuple(sorted({index for _, found in results for index, _ in found}))
        weak = next((fingering for fingering, found in results if not any(loses for _, loses in found)), None)
        if weak is not None:
            return NoteResult(written, sounding, NoteState.OFF, weak.words, 0.0, because, is_weak=True)
        return NoteResult(written, sounding, NoteState.LOST, "", None, because)


def column_positions(*, chart: HoleChart, parts: Sequence[Part]) -> Mapping[str, int]:
    """Return part -> index of the hole that its stretch of tube ends at, from the order of the walk.

    A part without holes lies behind the last hole of the parts before it; one with holes begins at its first. Parts
    after those of the whole body (springs, tone holes) are of the whole body too: they count from the top.
    """
    order = {hole.id: number for number, hole in enumerate(chart.holes)}
    reached, is_whole = 0, False
    result: dict[str, int] = {}
    for part in parts:
        ids = [] if part.repeats_places else [order[place.code] for place in part.places if place.code in order]
        joint = chart.joints.get(part.code, part.code)
        ids += [order[joint]] if joint in order else []
        is_whole = is_whole or part.repeats_places
        result[part.code] = 0 if is_whole else min(ids) if ids else reached
        reached = max([reached, *(number + 1 for number in ids)])
    return result
