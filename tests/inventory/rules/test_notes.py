"""Notes said once: four half steps in a row are a range, three are named."""

from __future__ import annotations

import pytest

from inventory.rules.notes import note_words, shown_note, signed, unsigned


@pytest.mark.parametrize(
    ("notes", "words"),
    [
        ((), ""),
        (["F#4"], "F♯4"),
        (["E3", "F3", "F#3"], "E3, F3, F♯3"),
        (["E3", "F3", "F#3", "G3"], "E3 to G3"),
        (["C5", "E3", "F3", "F#3", "G3", "Ab3", "A3", "Bb3", "B4"], "E3 to B♭3, B4, C5"),
        (["A3", "B3", "C#4", "Eb4", "F4"], "A3, B3, C♯4, E♭4, F4"),
        (["B3", "C4", "D4", "Eb4", "E4", "F4"], "B3, C4, D4 to F4"),
        (["E♭4", "E♭4"], "E♭4"),
        (["low trill", "roll", "C4"], "C4, low trill, roll"),
    ],
)
def test_neighbors_are_said_as_a_range(notes, words):
    assert note_words(notes) == words


def test_of_many_pieces_the_first_are_named_and_every_further_note_is_counted():
    whole_tones = ["C4", "D4", "E4", "F#4"]
    row = ["C5", "C#5", "D5", "Eb5"]
    assert note_words([*whole_tones, *row], most=5) == "C4, D4, E4, F♯4, C5 to E♭5"
    assert note_words([*whole_tones, *row], most=4) == "C4, D4 and 6 more"


def test_one_note_gets_its_real_sharp_or_flat():
    assert (shown_note("Bb3"), shown_note("F#4"), shown_note("B3")) == ("B♭3", "F♯4", "B3")


def test_what_is_not_a_note_is_written_as_it_is():
    assert note_words(["bass drum", "32 inch drum"]) == "bass drum, 32 inch drum"


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("Clarinet in Bb", "Clarinet in B♭"),
        ("BBb", "BB♭"),
        ("Ab/Eb, F#/C# and Bb3 bar", "A♭/E♭, F♯/C♯ and B♭3 bar"),
        ("T lowBb TBb", "T lowB♭ TB♭"),
        ("Abrasive, Ebonite, thumb", "Abrasive, Ebonite, thumb"),
    ],
)
def test_notes_and_keys_in_a_text_are_read_with_signs(typed, read):
    assert signed(typed) == read
    assert unsigned(read) == typed
