"""Bars that still speak, and what drums, keyboards and strings can no longer do."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.catalog.schema import MISSING_PART, Effect, Part, RoleTag
from inventory.rules.pitch import midi_of, name_of
from inventory.rules.playing.readings import BENDS, LOSES, STOPS, UNSAFE, Reading
from inventory.rules.playing.reports import NoteResult, NoteState

BAR = "bar"


def functions_lost(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Return what can no longer be done because of the findings, each once, in the order of the findings."""
    lost: dict[str, None] = {}
    for reading in readings:
        if reading.effect not in {LOSES, STOPS, UNSAFE} and not _is_gone(reading):
            continue
        if reading.lost:
            lost[reading.lost] = None
    return tuple(lost)


def _is_gone(reading: Reading) -> bool:
    return reading.finding.fault == MISSING_PART and reading.effect not in {Effect.LOOKS_ONLY, Effect.RISKS}


class BarModel:
    """One bar a note. A bar is named by its place: C5, Bb4, Cs5; a row without a place means the whole row."""

    def __init__(self, *, readings: Sequence[Reading], low: str, high: str) -> None:
        self.span = range(midi_of(low), midi_of(high) + 1)
        self.hurt: dict[int, list[tuple[int, bool]]] = {}
        for reading in readings:
            for midi in self._bars(reading):
                self.hurt.setdefault(midi, []).append(
                    (reading.index, reading.effect in {LOSES, STOPS} and RoleTag.HANGS not in reading.tags)
                )

    def _bars(self, reading: Reading) -> list[int]:
        if reading.effect not in {BENDS, LOSES, STOPS}:
            return []
        if RoleTag.HANGS in reading.tags:
            return list(self.span) if reading.effect is not BENDS else []
        if reading.part.role != BAR:
            return list(self.span) if reading.stops else []
        if reading.finding.place:
            return [bar_midi(reading.finding.place)]
        return [bar_midi(place.code) for place in reading.part.places] or self._row(reading.part)

    def _row(self, part: Part) -> list[int]:
        is_accidentals = "accidental" in part.code
        return [midi for midi in self.span if (len(name_of(midi)) > 2) is is_accidentals]

    def notes(self) -> tuple[str, ...]:
        """Return the written notes of the span, ascending."""
        return tuple(name_of(midi) for midi in self.span)

    def note(self, written: str, *, sounding: int) -> NoteResult:
        """Return what becomes of one bar's note."""
        hurt = self.hurt.get(midi_of(written), [])
        because = tuple(sorted({index for index, _ in hurt}))
        if any(loses for _, loses in hurt):
            return NoteResult(written, sounding, NoteState.LOST, "", None, because)
        state = NoteState.OFF if hurt else NoteState.USUAL
        return NoteResult(written, sounding, state, "bar", 0.0, because, is_weak=bool(hurt))


def bar_midi(code: str) -> int:
    """Return the MIDI number of a bar's place code: "Cs5" and "C#5" are the same bar."""
    return midi_of(code.replace("s", "#"))
