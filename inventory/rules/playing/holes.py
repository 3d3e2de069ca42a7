"""Notes of keyed woodwinds: a fingering needs some holes shut and some open, and a finding keeps one from either.

What a fault does to a hole, where the trade leaves it open (from memory):

* a leak spoils every note that needs the hole shut: weak ("off") when light, lost from moderate on;
* a broken spring: a key that it held shut hangs open, a key that it held open hangs shut;
* a key that binds stays as it rests: one that rests open no longer shuts, one that rests shut no longer opens;
* a clogged hole lets nothing out: what needs it open is weak, or lost once it is shut;
* a sticky pad that rests shut opens too late, and one that rests open stays down;
* regulation: two holes that one key shuts no longer land together, so both count as leaking when that key is pressed;
  where the finding names the key ("link L2"), its hole alone leaks, and only where no other pressed key shuts it;
* a leak at the vent of an upper register makes the low notes unsure until the vent stands open: it does by chance what
  opening the vent does, and a small vent changes the register only some of the time ("Second register production on
  the clarinet: nonlinear losses in the register hole", 2024, an experiment with players and open vents of five sizes);
  that a pad which holds at one side is such a small vent is common practice, no source;
* a finding on the body (a crack, a tenon) spoils the notes whose air column passes it: lost at a joint of the chart,
  weak elsewhere, because how much a crack leaks no table can say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.chart_schema import Fingering, HoleChart, Rest
from inventory.catalog.schema import FaultWay, Part, Severity
from inventory.rules.playing.readings import BENDS, Reading
from inventory.rules.playing.ways import Way

LINK = "link "  # before the key that a finding's detail names
SPOILS = frozenset({FaultWay.LEAKS, FaultWay.CLOGS})  # a hole, from the lightest severity on


@dataclass(frozen=True, slots=True)
class HoleTrouble:
    """What a finding does to the fingerings it concerns; of its conditions, those that are set."""

    index: int  # of the finding
    loses: bool  # the note, instead of weakening it
    leaks: str = ""  # hole: concerns fingerings that need it shut
    stays_shut: str = ""  # hole: concerns fingerings that need it open
    key: str = ""  # whose ``linked`` holes no longer land together: concerns fingerings that press it
    linked: frozenset[str] = frozenset()
    unless: frozenset[str] = frozenset()  # other keys that shut those holes as well
    behind: int | None = None  # index of the hole behind a stretch of tube: concerns notes that sound from there on

    def concerns(self, fingering: Fingering, *, sounds_from: int) -> bool:
        """Return whether a fingering that sounds from this hole (by index) suffers."""
        if self.leaks:
            return self.leaks in fingering.must_seal
        if self.stays_shut:
            return self.stays_shut in fingering.must_open
        if self.key:
            is_held = not self.unless.isdisjoint(fingering.keys)
            return self.key in fingering.keys and not is_held and not self.linked.isdisjoint(fingering.must_seal)
        return self.behind is None or self.behind <= sounds_from


class HoleModel:
    """The fingerings of one woodwind, and what findings leave of them."""

    def __init__(self, *, chart: HoleChart, parts: Sequence[Part], readings: Sequence[Reading]) -> None:
        self.chart = chart
        self.index = {hole.id: number for number, hole in enumerate(chart.holes)}
        self.rest = {hole.id: hole.rest for hole in chart.holes}
        self.behind = column_positions(chart=chart, parts=parts)
        self.troubles = tuple(trouble for reading in readings for trouble in self._troubles(reading))

    def _troubles(self, reading: Reading) -> Iterable[HoleTrouble]:
        loses, holes = reading.loses, self.holes_of(reading)
        if reading.stops:
            yield HoleTrouble(reading.index, loses=True)
        elif holes and (loses or (reading.bends and not SPOILS.isdisjoint(reading.ways))):
            for hole in holes:
                yield from self._hole_troubles(reading, hole=hole)
        elif loses and reading.is_on_air_path and not reading.part.places and not reading.part.repeats_places:
            yield HoleTrouble(reading.index, loses=False, behind=self.behind[reading.part.code])

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

    def _hole_troubles(self, reading: Reading, *, hole: str) -> Iterable[HoleTrouble]:
        index, loses, ways, rest = reading.index, reading.loses, reading.ways, self.rest[hole]
        if BENDS in reading.lightest and reading.finding.severity is not Severity.SEVERE and self._is_vent(hole):
            loses = False
        link = reading.finding.detail.removeprefix(LINK)
        if FaultWay.UNLINKS in ways and link in links_of(self.chart, hole=hole):
            unless = frozenset(key for key, ids in self.chart.closes.items() if hole in ids) - {link}
            yield HoleTrouble(index, loses, key=link, linked=frozenset({hole}), unless=unless)
        elif FaultWay.UNLINKS in ways:
            for key in links_of(self.chart, hole=hole):
                yield HoleTrouble(index, loses, key=key, linked=frozenset(self.chart.closes[key]))
            yield HoleTrouble(index, loses=False, leaks=hole)
        elif (
            FaultWay.CLOGS in ways
            or (FaultWay.STICKS in ways and rest is not Rest.FINGER)
            or (FaultWay.BINDS in ways and rest is Rest.CLOSED)
            or (reading.lacks_spring("spring") and rest is Rest.OPEN)
        ):
            yield HoleTrouble(index, loses, stays_shut=hole)
        else:
            yield HoleTrouble(index, loses, leaks=hole)

    def _is_vent(self, hole: str) -> bool:
        """Return whether a key opens the hole to change the register."""
        made = (one for fingerings in self.chart.fingerings.values() for one in fingerings)
        return self.rest[hole] is Rest.CLOSED and any(one.register > 1 and hole in one.vents for one in made)

    def usual(self, written: str) -> str:
        """Return the fingering that a player uses first, as said."""
        return self.chart.fingerings[written][0].words

    def ways(self, written: str) -> list[Way]:
        """Return the ways to a note in the order of the chart."""
        return [self._way(fingering) for fingering in self.chart.fingerings[written]]

    def _way(self, fingering: Fingering) -> Way:
        end = self.index.get(fingering.sounds_from, len(self.index))
        here = [trouble for trouble in self.troubles if trouble.concerns(fingering, sounds_from=end)]
        return Way(
            fingering=fingering.words,
            blockers=tuple(trouble.index for trouble in here if trouble.loses),
            leaks=tuple(trouble.index for trouble in here if not trouble.loses),
        )


def links_of(chart: HoleChart, *, hole: str) -> tuple[str, ...]:
    """Return the keys that shut a hole together with others: those that regulation has to do with."""
    return tuple(key for key, ids in chart.closes.items() if hole in ids and len(ids) > 1)


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
