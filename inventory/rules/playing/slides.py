"""Notes of a trombone: positions are lengths of one slide, so a note is a length, and a stop is a length too.

The tube is 1 in first position; n semitones below a partial need 2^(n/12) of it, and the slide gives the part that no
valve gives. Seventh position is as far as the slide goes. A player sets the slide by ear, so a note that can be
reached is in tune: its error of lengths is 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from inventory.catalog.chart_schema import SlideChart
from inventory.rules.pitch import midi_of
from inventory.rules.playing.partials import true_semitones
from inventory.rules.playing.readings import Reading, position
from inventory.rules.playing.reports import NoteResult, NoteState

POSITIONS = 7
NEAR = 1e-9  # lengths are ratios of the tube
HALF_WAY = 4  # where a slide stops if nobody said where
HAND_SLIDE = frozenset({"hand_slide_inner", "hand_slide_outer"})
STOPPING = frozenset({"dent_slide_leg", "slide_dry_sluggish", "crease"})
ATTACHMENT_ROLES = frozenset({"rotor", "bearing", "linkage", "trigger", "bumper", "casing", "valve_cap"})


def extension(place: float) -> float:
    """Return how much longer the tube is in a position (1 to 7) than in first, as a share of it."""
    return 2 ** ((place - 1) / 12) - 1


@dataclass(frozen=True, slots=True)
class Reach:
    """One way to give a note: how far the slide is out, with or without the trigger."""

    out: float  # share of the tube
    has_trigger: bool
    fingering: str


@dataclass(slots=True)
class SlideTrouble:
    stopped: list[int] = field(default_factory=list)
    weak: list[int] = field(default_factory=list)
    least: float = 0.0  # the slide cannot come in further than this
    most: float = extension(POSITIONS)
    limits: list[int] = field(default_factory=list)
    no_trigger: list[int] = field(default_factory=list)
    only_trigger: list[int] = field(default_factory=list)
    weak_trigger: list[int] = field(default_factory=list)


def slide_trouble(readings: Sequence[Reading]) -> SlideTrouble:
    """Sort the findings of a trombone by what they do to slide and attachment."""
    trouble = SlideTrouble()
    for reading in readings:
        fault, detail = reading.finding.fault, reading.finding.detail.casefold()
        if reading.part.role in HAND_SLIDE and fault == "slide_seized":
            _limit(trouble, reading, least=position(detail) or 1, most=position(detail) or 1)
        elif reading.part.role in HAND_SLIDE and fault in STOPPING and reading.loses:
            _limit(trouble, reading, least=1, most=position(detail) or HALF_WAY)
        elif is_attachment(reading):
            if reading.loses or reading.stops:
                _attachment(trouble, reading, is_down="down" in detail)
        elif reading.stops:
            trouble.stopped.append(reading.index)
        elif reading.loses and reading.is_on_air_path:
            trouble.weak.append(reading.index)
    return trouble


def is_attachment(reading: Reading) -> bool:
    """Return whether a finding is on the F attachment, which the open tube does without."""
    return reading.valve == "T" or reading.part.role in ATTACHMENT_ROLES or reading.part.role == "valve_slide"


def _limit(trouble: SlideTrouble, reading: Reading, *, least: int, most: int) -> None:
    trouble.limits.append(reading.index)
    trouble.least = max(trouble.least, extension(least))
    trouble.most = min(trouble.most, extension(most))


def _attachment(trouble: SlideTrouble, reading: Reading, *, is_down: bool) -> None:
    if reading.part.code.startswith("second"):
        return  # a bass trombone's second rotor: no note of the chart needs it
    if reading.finding.fault in {"pinhole", "crack_brass", "valve_leak", "solder_broken"} and reading.loses:
        trouble.weak_trigger.append(reading.index)
    elif is_down:
        trouble.only_trigger.append(reading.index)
    else:
        trouble.no_trigger.append(reading.index)


class SlideModel:
    """The ways to play each note of one trombone, and what findings leave of them."""

    def __init__(self, *, chart: SlideChart, has_attachment: bool, readings: Sequence[Reading]) -> None:
        self.chart = chart
        self.trouble = slide_trouble(readings)
        self.triggers = (False, True) if has_attachment else (False,)
        self.partials = tuple(chart.fundamental + true_semitones(partial) for partial in chart.partials)

    def ways(self, midi: int) -> list[Reach]:
        """Return every way a sound trombone gives a note."""
        found = []
        for has_trigger in self.triggers:
            tube = 2 ** (self.chart.attachment / 12) if has_trigger else 1.0
            for partial in self.partials:
                out = 2 ** ((partial - midi) / 12) - tube
                if -NEAR <= out <= extension(POSITIONS) + NEAR:
                    place = round(1 + 12 * math.log2(1 + max(out, 0.0)))
                    found.append(Reach(out, has_trigger, f"{'T' if has_trigger else ''}{place}"))
        return found

    def blockers(self, way: Reach) -> list[int]:
        """Return the findings that make a way impossible."""
        trouble = self.trouble
        found = [*trouble.stopped, *(trouble.no_trigger if way.has_trigger else trouble.only_trigger)]
        if not trouble.least - NEAR <= way.out <= trouble.most + NEAR:
            found += trouble.limits
        return found

    def spoilers(self, way: Reach) -> list[int]:
        """Return the findings that make a way weak."""
        return [*self.trouble.weak, *(self.trouble.weak_trigger if way.has_trigger else ())]

    def note(self, written: str, *, sounding: int, standard_only: bool) -> NoteResult:
        """Return what becomes of one note: usual position first, then the nearest other one."""
        usual = self.chart.usual[written]
        ways = [way for way in self.ways(midi_of(written)) if not standard_only or way.fingering == usual]
        because = {index for way in ways for index in (*self.blockers(way), *self.spoilers(way))}
        possible = sorted(
            (way for way in ways if not self.blockers(way)),
            key=lambda way: (bool(self.spoilers(way)), way.fingering != usual, way.out),
        )
        if not possible:
            return NoteResult(written, sounding, NoteState.LOST, "", None, tuple(sorted(because)))
        best = possible[0]
        state = NoteState.USUAL if best.fingering == usual else NoteState.OTHER_FINGERING
        if self.spoilers(best):
            state = NoteState.OFF
        if state is NoteState.USUAL:
            because = set()
        elif state is NoteState.OTHER_FINGERING:
            standard = [way for way in ways if way.fingering == usual]
            because = {index for way in standard for index in (*self.blockers(way), *self.spoilers(way))}
        is_weak = state is NoteState.OFF
        return NoteResult(written, sounding, state, best.fingering, 0.0, tuple(sorted(because)), is_weak=is_weak)

    def functions_lost(self) -> tuple[str, ...]:
        """Return what a player can no longer do, notes apart."""
        lost = []
        if self.trouble.no_trigger:
            lost.append("the F attachment")
        if self.trouble.only_trigger:
            lost.append("playing without the F attachment")
        return tuple(lost)
