"""Bars that still sound, and what drums, keyboards and strings can no longer do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inventory.catalog.schema import Effect, Part, RoleTag
from inventory.rules.pitch import midi_of, name_of
from inventory.rules.playing.readings import LOSES, STOPS, UNSAFE, Reading
from inventory.rules.playing.ways import Way

BAR = "bar"


def functions_lost(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Return what can no longer be done because of the findings, each once, in the order of the findings."""
    return tuple(dict.fromkeys(reading.lost for reading in readings if reading.lost and _fails(reading)))


def _fails(reading: Reading) -> bool:
    is_needed = reading.is_gone and not {Effect.LOOKS_ONLY, Effect.RISKS}.issuperset(reading.effects)
    return is_needed or not {LOSES, STOPS, UNSAFE}.isdisjoint(reading.effects)


class BarModel:
    """One bar a note. A bar is named by its place: C5, Bb4, Cs5; a row without a place means the whole row."""

    def __init__(self, *, readings: Sequence[Reading], low: str, high: str) -> None:
        self.span = range(midi_of(low), midi_of(high) + 1)
        self.lost: dict[int, list[int]] = {}  # MIDI number -> findings that silence its bar
        self.weak: dict[int, list[int]] = {}
        for reading in readings:
            is_lost = (reading.loses or reading.stops) and RoleTag.HANGS not in reading.tags
            for midi in self._bars(reading):
                (self.lost if is_lost else self.weak).setdefault(midi, []).append(reading.index)

    def _bars(self, reading: Reading) -> Iterable[int]:
        if not (reading.bends or reading.loses or reading.stops):
            return ()
        if RoleTag.HANGS in reading.tags:
            return () if reading.bends else self.span
        if reading.part.role != BAR:
            return self.span if reading.stops else ()
        if reading.finding.place:
            return (bar_midi(reading.finding.place),)
        return [bar_midi(place.code) for place in reading.part.places] or self._row(reading.part)

    def _row(self, part: Part) -> list[int]:
        is_accidentals = "accidental" in part.code
        return [midi for midi in self.span if (len(name_of(midi)) > 2) is is_accidentals]

    def notes(self) -> tuple[str, ...]:
        """Return the written notes of the span, ascending."""
        return tuple(name_of(midi) for midi in self.span)

    def usual(self, written: str) -> str:
        """Return the one way to play a bar."""
        del written
        return BAR

    def ways(self, written: str) -> list[Way]:
        """Return the one way to a note: its bar."""
        midi = midi_of(written)
        return [Way(BAR, blockers=tuple(self.lost.get(midi, ())), leaks=tuple(self.weak.get(midi, ())))]


def bar_midi(code: str) -> int:
    """Return the MIDI number of a bar's place code: "Cs5" and "C#5" are the same bar."""
    return midi_of(code.replace("s", "#"))
