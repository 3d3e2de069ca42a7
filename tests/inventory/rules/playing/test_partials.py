import math

import pytest

from inventory.rules.playing.partials import SEMITONES_OF_PARTIAL, open_notes, true_semitones


@pytest.mark.parametrize(("partial", "semitones"), SEMITONES_OF_PARTIAL.items())
def test_a_partial_is_the_nearest_semitone_to_its_ratio(partial, semitones):
    """Harmonic series: partial n is 12 log2 n semitones above the first (any acoustics text)."""
    assert semitones == round(12 * math.log2(partial))


def test_the_open_notes_of_a_trumpet():
    """Open notes C4 G4 C5 E5 G5 C6 of a published chart (thewholehorn.com, Trumpet fingering)."""
    assert list(open_notes(fundamental=48, partials=(2, 3, 4, 5, 6, 8)).values()) == [60, 67, 72, 76, 79, 84]


def test_the_seventh_partial_is_a_third_of_a_semitone_flat():
    """Just ratio 7:4 against ten semitones: 31 cents flat (any acoustics text)."""
    assert 100 * (true_semitones(7) - 34) == pytest.approx(-31.17, abs=0.01)
    assert true_semitones(6) == 31
