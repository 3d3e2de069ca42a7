from datetime import date, timedelta

import music21
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.pitch import (
    corrected_cents,
    drift,
    frequency,
    leveled,
    midi_of,
    name_of,
    speed_of_sound,
    spread,
    temperature_cents,
    unexplained,
)
from tests.inventory.rules.cases import KINDS

# Classes of music21 10.5.1 whose transposition agrees with published tables (teoria.com, Transposing instruments;
# LaRue, Conducting handout 6). Its E-flat clarinet, contrabassoon, xylophone and bells do not, and are left out.
MUSIC21_CLASSES = {
    "trumpet": "Trumpet",
    "clarinet_bb": "Clarinet",
    "clarinet_bass": "BassClarinet",
    "sax_soprano": "SopranoSaxophone",
    "sax_alto": "AltoSaxophone",
    "sax_tenor": "TenorSaxophone",
    "sax_baritone": "BaritoneSaxophone",
    "horn_single": "Horn",
    "horn_double": "Horn",
    "english_horn": "EnglishHorn",
    "piccolo": "Piccolo",
    "flute": "Flute",
    "oboe": "Oboe",
    "bassoon": "Bassoon",
    "trombone": "Trombone",
    "tuba": "Tuba",
}
# The same published tables, for kinds that music21 has no class for or gets wrong.
PUBLISHED_TRANSPOSITIONS = {
    "cornet": -2,
    "clarinet_eb": 3,
    "clarinet_alto": -9,
    "clarinet_contra": -21,
    "mellophone": -7,
    "euphonium": 0,
    "bell_kit": 24,
    "xylophone": 12,
}


@pytest.mark.parametrize(("code", "name"), MUSIC21_CLASSES.items())
def test_a_kind_sounds_where_music21_says(code, name):
    interval = getattr(music21.instrument, name)().transposition
    assert KINDS[code].sounds == (interval.semitones if interval else 0)


@pytest.mark.parametrize(("code", "semitones"), PUBLISHED_TRANSPOSITIONS.items())
def test_a_kind_sounds_where_published_tables_say(code, semitones):
    assert KINDS[code].sounds == semitones


@pytest.mark.parametrize("midi", range(21, 109))
def test_equal_temperament_agrees_with_music21_on_every_key_of_a_piano(midi):
    pitch = music21.pitch.Pitch()
    pitch.midi = midi
    assert frequency(midi) == pytest.approx(pitch.frequency, rel=1e-9)


def test_printed_frequencies_of_equal_temperament():
    """Three decimals as in printed tables (from memory): A0, E2, F3, C4, Bb4, C8."""
    printed = {21: 27.5, 40: 82.407, 53: 174.614, 60: 261.626, 70: 466.164, 108: 4186.009}
    for midi, hertz in printed.items():
        assert frequency(midi) == pytest.approx(hertz, abs=5e-4)


@pytest.mark.parametrize("name", ["C4", "F#3", "Gb2", "Bb2", "E-1", "B#3", "Cb4", "c4", "A♭3", "F♯5"])
def test_a_note_has_the_number_that_music21_gives_it(name):
    theirs = name[0].upper() + name[1:].replace("b", "-").replace("♭", "-").replace("♯", "#")
    if name == "E-1":
        pitch = music21.pitch.Pitch("E")
        pitch.octave = -1
    else:
        pitch = music21.pitch.Pitch(theirs)
    assert midi_of(name) == pitch.ps


@pytest.mark.parametrize("text", ["H4", "C", "", "4C", "C##4", "Cb", "tuba", "C4 D4"])
def test_what_is_no_note_is_refused(text):
    with pytest.raises(ValueError, match="is not a note"):
        midi_of(text)


@given(st.integers(0, 119))
def test_every_number_has_a_name_that_leads_back(midi):
    assert midi_of(name_of(midi)) == midi


@pytest.mark.parametrize(("celsius", "published"), [(0, 331.3), (10, 337.3), (20, 343.2), (25, 346.1), (30, 349.0)])
def test_speed_of_sound_agrees_with_printed_tables(celsius, published):
    """Dry air, m/s; values printed in physics tables (from memory; 343.2 at 20 degrees is the widely quoted one)."""
    assert speed_of_sound(celsius) == pytest.approx(published, abs=0.2)


def test_a_cold_room_makes_a_horn_flat_by_about_three_cents_a_degree():
    """Common practice, no source: about 3 cents a degree Celsius."""
    assert temperature_cents(20) == 0
    assert temperature_cents(15) == pytest.approx(-14.8, abs=0.3)
    assert corrected_cents(-10, celsius=15) == pytest.approx(4.8, abs=0.3)


def test_spread_of_tries():
    tries = spread([10, 12, 14])
    assert (tries.mean, tries.deviation, tries.width, tries.tries) == (12, 2, 4, 3)
    assert spread([3]).deviation == 0
    with pytest.raises(ValueError, match="no try"):
        spread([])


def test_a_note_that_the_findings_do_not_explain_is_called_out():
    predicted = {"C4": 0.0, "D4": 30.3, "E4": 10.6, "F4": 0.0, "G4": 0.0}
    measured = {"C4": 8.0, "D4": 38.0, "E4": 18.6, "F4": 40.0, "G4": 8.0}
    (one,) = unexplained(measured=measured, predicted=predicted)
    assert one.written == "F4"
    assert one.excess == pytest.approx(32)


def test_a_whole_horn_that_is_sharp_explains_itself_by_its_main_slide():
    predicted = {"C4": 0.0, "D4": 30.3, "E4": 10.6}
    assert unexplained(measured={note: cents + 25 for note, cents in predicted.items()}, predicted=predicted) == ()
    assert unexplained(measured={"X4": 5.0}, predicted=predicted) == ()


@pytest.mark.parametrize(("cents", "is_called_out"), [(15.0, False), (15.25, True), (-15.0, False), (-15.25, True)])
def test_the_tolerance_of_a_measured_note_is_fifteen_cents(cents, is_called_out):
    """Shop default; beyond it a note is called out, at it not."""
    names = ("C4", "D4", "E4", "F4", "G4")
    measured = dict.fromkeys(names, 0.0) | {"G4": cents}
    found = unexplained(measured=measured, predicted=dict.fromkeys(names, 0.0))
    assert [one.written for one in found] == (["G4"] if is_called_out else [])


def test_the_worst_note_is_called_out_first_and_equal_ones_from_the_lowest():
    names = ("C4", "D4", "E4", "F4", "G4", "A4", "B4")
    measured = dict.fromkeys(names, 0.0) | {"A4": 20.0, "D4": -20.0, "E4": 31.0}
    found = unexplained(measured=measured, predicted=dict.fromkeys(names, 0.0))
    assert [one.written for one in found] == ["E4", "D4", "A4"]


@pytest.mark.parametrize(
    ("days", "change", "is_flagged"),
    [
        (1462, 20.02, True),  # 1462 / 365.25 = 4.0027 years: 20.014 cents are 5 a year
        (1462, 20.0, False),
        (1462, -20.02, True),
        (366, 8.001, True),  # about 8 cents a year, and just 8 over the whole span
        (366, 7.999, False),
    ],
)
def test_drift_is_flagged_from_five_cents_a_year_and_eight_in_all(days, change, is_flagged):
    """Shop defaults. Three tests on a straight line, so slope and change are plain division."""
    first = date(2022, 1, 1)
    found = drift(tests=[(first + timedelta(days * part / 2), change * part / 2) for part in (0, 1, 2)])
    assert found is not None
    assert found.cents_per_year == pytest.approx(change / (days / 365.25), rel=1e-3)
    assert (found.is_flagged, found.tests) == (is_flagged, 3)


def test_drift_needs_three_tests_and_more_than_noise():
    years = [date(2023, 9, 1), date(2024, 9, 1), date(2025, 9, 1)]
    steep = drift(tests=list(zip(years, [0.0, -8.0, -16.0], strict=True)))
    assert steep is not None
    assert steep.is_flagged
    assert steep.cents_per_year == pytest.approx(-8, abs=0.05)
    assert steep.change == pytest.approx(-16, abs=0.1)
    flat = drift(tests=list(zip(years, [0.0, 2.0, -1.0], strict=True)))
    assert flat is not None
    assert not flat.is_flagged
    assert drift(tests=[(years[0], 0.0), (years[1], 30.0)]) is None
    assert drift(tests=[(years[0], 0.0)] * 3) is None
    assert drift(tests=[]) is None


def test_a_test_that_leaves_out_the_sharp_notes_is_not_flat():
    """Two notes in tune and one always 54 cents sharp (1+2+3): the second test skips it, the horn has not moved."""
    whole, part = leveled([{"C4": 0.0, "G4": 0.0, "C#4": 54.0}, {"C4": 0.0, "G4": 0.0}])
    assert part == pytest.approx(whole, abs=0.01)


def test_tests_of_the_same_notes_stand_at_their_means():
    assert leveled([{"C4": 1.0, "G4": 3.0}, {"C4": -5.0, "G4": -3.0}]) == pytest.approx([2.0, -4.0])
    assert leveled([{"C4": 7.0}]) == [7.0]
    assert leveled([]) == []
    assert leveled([{"C4": 2.0}, {"G4": 9.0}]) == pytest.approx([2.0, 9.0])


def test_levels_are_those_of_least_squares():
    """Own arithmetic with numpy: the same additive model, solved at once."""
    tests = [{"a": 3.0, "b": 10.0}, {"b": 4.0, "c": -2.0}, {"a": 1.0, "c": 5.0, "b": 6.0}]
    names = sorted({name for test in tests for name in test})
    rows = [(t, names.index(name), cents) for t, test in enumerate(tests) for name, cents in test.items()]
    matrix = np.zeros((len(rows), len(tests) + len(names)))
    for row, (t, name, _) in enumerate(rows):
        matrix[row, t] = matrix[row, len(tests) + name] = 1
    solved = np.linalg.lstsq(matrix, np.array([cents for *_, cents in rows]), rcond=None)[0][: len(tests)]
    found = leveled(tests)
    assert np.diff(found) == pytest.approx(np.diff(solved), abs=0.01)
