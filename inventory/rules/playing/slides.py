"""Notes of a trombone: positions are lengths of one slide, so a note is a length, and a stop is a length too.

The tube is 1 in first position; n semitones below a partial need 2^(n/12) of it, and the slide gives the part that no
valve gives. A player sets the slide by ear, so a note that can be reached is in tune: its error of lengths is 0.
An attachment adds 2^(n/12) - 1; two of them, each with a lever of its own, add up. Positions are those of the slide as it
stands, to the nearest whole one: with an attachment the steps are longer, so "T7" is all there is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from inventory.catalog.chart_schema import SlideChart
from inventory.catalog.schema import FaultWay, RoleTag
from inventory.rules.pitch import midi_of
from inventory.rules.playing.partials import true_semitones
from inventory.rules.playing.readings import Reading, position
from inventory.rules.playing.reports import NoteResult, NoteState

POSITIONS = 7
PAST_SEVENTH = 7.45  # where a slide comes off: low C with the F attachment lies beyond seventh. From memory
NEAR = 1e-9  # lengths are ratios of the tube
HALF_WAY = 4  # where a slide stops if nobody said where


ATTACHMENTS = {"T": "F attachment", "G": "second attachment"}


def extension(place: float) -> float:
    """Return how much longer the tube is in a position (1 to 7) than in first, as a share of it."""
    return 2 ** ((place - 1) / 12) - 1


FURTHEST = extension(PAST_SEVENTH)


def nearest_position(out: float) -> int:
    """Return the position that is nearest to where the slide stands, a share of the tube out."""
    return round(1 + 12 * math.log2(1 + max(out, 0.0)))


def tube(chart: SlideChart, levers: str) -> float:
    """Return the length of the tube in first position with these levers down; 1 without any."""
    added = {"T": chart.attachment, "G": chart.second_attachment}
    return 1 + sum(2 ** (added[lever] / 12) - 1 for lever in levers)


@dataclass(frozen=True, slots=True)
class Reach:
    """One way to give a note: how far the slide is out, and which levers are down."""

    out: float  # share of the tube
    levers: str  # "", "T", "G" or "TG"
    fingering: str


@dataclass(slots=True)
class SlideTrouble:
    """What the findings do. What concerns an attachment is kept by its lever: T for the F, G for a second one."""

    stopped: list[int] = field(default_factory=list)
    weak: list[int] = field(default_factory=list)
    least: float = 0.0  # the slide cannot come in further than this
    most: float = FURTHEST
    limits: list[int] = field(default_factory=list)
    held_up: dict[str, list[int]] = field(default_factory=dict)
    held_down: dict[str, list[int]] = field(default_factory=dict)
    weak_levers: dict[str, list[int]] = field(default_factory=dict)


def slide_trouble(readings: Sequence[Reading]) -> SlideTrouble:
    """Sort the findings of a trombone by what they do to slide and attachment."""
    trouble = SlideTrouble()
    for reading in readings:
        detail, is_slide = reading.finding.detail.casefold(), RoleTag.HAND_SLIDE in reading.tags
        if is_slide and FaultWay.FIXES in reading.ways:
            _limit(trouble, reading, least=position(detail) or 1, most=position(detail) or 1)
        elif is_slide and FaultWay.HALTS in reading.ways and reading.loses:
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
    return reading.valve == "T" or RoleTag.ATTACHMENT in reading.tags


def _limit(trouble: SlideTrouble, reading: Reading, *, least: int, most: int) -> None:
    trouble.limits.append(reading.index)
    trouble.least = max(trouble.least, extension(least))
    trouble.most = min(trouble.most, extension(most))


def _attachment(trouble: SlideTrouble, reading: Reading, *, is_down: bool) -> None:
    lever = "G" if reading.part.code.startswith("second") else "T"
    if FaultWay.LEAKS in reading.ways and reading.loses:
        trouble.weak_levers.setdefault(lever, []).append(reading.index)
    else:
        held = trouble.held_down if is_down else trouble.held_up
        held.setdefault(lever, []).append(reading.index)


class SlideModel:
    """The ways to play each note of one trombone, and what findings leave of them. ``levers`` are those it has."""

    def __init__(self, *, chart: SlideChart, levers: str, readings: Sequence[Reading]) -> None:
        self.chart = chart
        self.trouble = slide_trouble(readings)
        self.levers = [taken for taken in ("", "T", "G", "TG") if set(taken) <= set(levers)]
        self.partials = tuple(chart.fundamental + true_semitones(partial) for partial in chart.partials)

    def ways(self, midi: int) -> list[Reach]:
        """Return every way a sound trombone gives a note."""
        return [
            Reach(out, levers, f"{levers}{nearest_position(out)}")
            for levers in self.levers
            for partial in self.partials
            if -NEAR <= (out := 2 ** ((partial - midi) / 12) - tube(self.chart, levers)) <= FURTHEST + NEAR
        ]

    def blockers(self, way: Reach) -> list[int]:
        """Return the findings that make a way impossible."""
        trouble = self.trouble
        found = [*trouble.stopped]
        found += [index for lever, by in trouble.held_up.items() if lever in way.levers for index in by]
        found += [index for lever, by in trouble.held_down.items() if lever not in way.levers for index in by]
        if not trouble.least - NEAR <= way.out <= trouble.most + NEAR:
            found += trouble.limits
        return found

    def spoilers(self, way: Reach) -> list[int]:
        """Return the findings that make a way weak."""
        found = [*self.trouble.weak]
        for lever in way.levers:
            found += self.trouble.weak_levers.get(lever, ())
        return found

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
        trouble = self.trouble
        lost = [f"the {ATTACHMENTS[lever]}" for lever in trouble.held_up]
        return (*lost, *(f"playing without the {ATTACHMENTS[lever]}" for lever in trouble.held_down))
