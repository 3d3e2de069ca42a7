"""The notes of an open tube."""

from __future__ import annotations

from collections.abc import Iterable

SEMITONES_OF_PARTIAL = {1: 0, 2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 8: 36, 9: 38, 10: 40, 12: 43, 16: 48}


def open_notes(*, fundamental: int, partials: Iterable[int]) -> dict[int, int]:
    """Return partial -> MIDI number of the nearest note of equal temperament."""
    return {partial: fundamental + SEMITONES_OF_PARTIAL[partial] for partial in partials}
