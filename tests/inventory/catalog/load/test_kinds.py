"""Kinds resolved from layouts; pitches in numbers."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.load.kinds import pitch_number

KINDS = catalog().kinds


@pytest.mark.parametrize(
    ("note", "number"),
    [("C4", 60), ("A4", 69), ("Bb3", 58), ("C#4", 61), ("E1", 28), ("C-1", 0), ("H4", None), ("", None)],
)
def test_notes_have_their_midi_numbers(note, number):
    """MIDI 1.0: middle C (C4) is 60, A4 at 440 Hz is 69."""
    assert pitch_number(note) == number


def codes(kind: str) -> set[str]:
    return {part.code for part in KINDS[kind].parts}


def test_a_layout_gives_each_kind_its_own_parts():
    assert "f_attachment_rotor" in codes("trombone_f") - codes("trombone")
    assert "second_rotor" in codes("trombone_bass") - codes("trombone_f")
    assert {"f_main_slide", "bb_main_slide", "valve_slide_bb_side"} <= codes("horn_double") - codes("horn_single")
    assert "neck_and_tuning_bits" in codes("sousaphone") - codes("tuba")
    assert "fourth_valve_slide" in codes("euphonium") - codes("baritone_marching")
    assert {"snare_wires", "strainer"} <= codes("snare_kit") - codes("bass_drum_concert")
    assert "motor" in codes("vibraphone") - codes("marimba")


def test_a_double_horn_has_a_thumb_rotor_and_a_single_horn_has_not():
    places = {kind: [one.code for one in KINDS[kind].part("rotor").places] for kind in ("horn_double", "horn_single")}
    assert places == {"horn_double": ["1", "2", "3", "thumb"], "horn_single": ["1", "2", "3"]}


def test_bars_run_over_the_written_range():
    naturals = [place.code for place in KINDS["bell_kit"].part("bars_naturals").places]
    accidentals = [place.code for place in KINDS["bell_kit"].part("bars_accidentals").places]
    assert (naturals[0], naturals[-1], len(naturals)) == ("G3", "C6", 18)
    assert (accidentals[0], accidentals[-1], len(accidentals)) == ("Ab3", "Bb5", 12)


def test_springs_repeat_the_places_of_the_keys():
    springs = KINDS["flute"].part("springs")
    assert springs.repeats_places
    assert {place.code for place in springs.places} >= {"Fs_pad", "low_C_pad"}


def test_a_kind_may_rename_and_count_an_accessory():
    mouthpiece = next(one for one in KINDS["cornet"].accessories if one.code == "mouthpiece")
    bits = next(one for one in KINDS["sousaphone"].accessories if one.code == "tuning_bit")
    assert mouthpiece.name == "cornet mouthpiece (short shank)"
    assert mouthpiece.hygiene
    assert bits.count == 2


@pytest.mark.parametrize("kind", [one for one in KINDS.values() if one.chart], ids=lambda kind: kind.code)
def test_a_kind_with_a_chart_has_a_first_year_or_concert_range(kind):
    assert kind.levels
