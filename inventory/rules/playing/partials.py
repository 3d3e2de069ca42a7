"""The notes of an open tube."""

from __future__ import annotations

import math
from collections.abc import Iterable

SEMITONES_OF_PARTIAL = {1: 0, 2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 7: 34, 8: 36, 9: 38, 10: 40, 12: 43, 16: 48}

FLAT_FIFTH = 1200 * math.log2(5 / 4) - 400  # -13.7 cents: the fifth partial against equal temperament


def natural_cents(partial: int) -> float:
    """Return how far off a partial may lie by its nature and be no fault: the fifth is flat, or lipped into tune."""
    return FLAT_FIFTH if partial in {5, 10} else 0.0


def true_semitones(partial: int) -> float:
    """Return how far a partial lies above the first, in semitones: the seventh, a third of one flat, by its ratio.

    All others count as notes of equal temperament, as the charts of valves do; only a slide can use the seventh.
    """
    return 12 * math.log2(partial) if partial == 7 else SEMITONES_OF_PARTIAL[partial]


def open_notes(*, fundamental: int, partials: Iterable[int]) -> dict[int, int]:
    """Return partial -> MIDI number of the nearest note of equal temperament."""
    return {partial: fundamental + SEMITONES_OF_PARTIAL[partial] for partial in partials}
