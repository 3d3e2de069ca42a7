"""Notes on a staff. Clefs and steps are checked against music21, a music library that knows nothing of this program."""

from __future__ import annotations

from itertools import combinations

import pytest
from django.utils.translation import override
from music21 import clef as m21_clef
from music21 import pitch as m21_pitch

from inventory.catalog.load import catalog
from inventory.rules.picture.shapes import n
from inventory.rules.picture.staff import (
    BOTTOM_LINE,
    SPACE,
    StaffDrawing,
    StaffNote,
    ledger_steps,
    lone_staff,
    staff,
    steps_of,
    summary_of,
)
from inventory.rules.playing import NoteState

THEIRS = {"treble": m21_clef.TrebleClef, "bass": m21_clef.BassClef, "alto": m21_clef.AltoClef}


def make_note(written: str, *, state: NoteState = NoteState.USUAL, cents: float | None = 0.0) -> StaffNote:
    return StaffNote(written=written, state=state, cents=None if state is NoteState.LOST else cents)


def bottom_of(drawing: StaffDrawing) -> float:
    return drawing.lines[0][1]


@pytest.mark.parametrize("clef", list(THEIRS))
def test_the_bottom_line_is_the_note_that_music21_names(clef):
    named = m21_pitch.Pitch()
    named.diatonicNoteNum = THEIRS[clef]().lowestLine
    assert f"{named.step}{named.octave}" == BOTTOM_LINE[clef]


@pytest.mark.parametrize("written", ["A0", "C4", "C#4", "Eb4", "F#2", "Bb1", "G5", "B3", "D6"])
def test_steps_agree_with_the_diatonic_numbers_of_music21(written):
    theirs = m21_pitch.Pitch(written.replace("b", "-"))
    assert steps_of(written) - steps_of("C4") == theirs.diatonicNoteNum - m21_pitch.Pitch("C4").diatonicNoteNum


@pytest.mark.parametrize(("clef", "middle"), [("treble", "B4"), ("bass", "D3"), ("alto", "C4")])
def test_the_middle_line_carries_the_note_every_beginner_learns_there(clef, middle):
    """Source: common musical notation, from memory; the bottom lines are checked against music21 above."""
    drawing = staff(notes=[make_note(middle)], clef=clef, width="phone")
    assert drawing.heads[0].y == pytest.approx(bottom_of(drawing) - 2 * SPACE)


def test_middle_c_has_one_ledger_line_below_the_treble_and_one_above_the_bass_staff():
    """Source: common musical notation, from memory."""
    below = staff(notes=[make_note("C4")], clef="treble", width="phone")
    above = staff(notes=[make_note("C4")], clef="bass", width="phone")
    assert [line[1] for line in below.ledgers] == [bottom_of(below) + SPACE]
    assert [line[1] for line in above.ledgers] == [bottom_of(above) - 5 * SPACE]


@pytest.mark.parametrize(("place", "lines"), [(-1, []), (-2, [-2]), (-5, [-2, -4]), (8, []), (9, []), (12, [10, 12])])
def test_ledger_lines_reach_to_the_note_and_no_further(place, lines):
    assert ledger_steps(place) == lines


def test_an_accidental_does_not_move_the_head_and_stands_to_its_left():
    sharp = staff(notes=[make_note("F4"), make_note("F#4")], clef="treble", width="phone").heads
    assert sharp[0].y == sharp[1].y
    assert not sharp[0].accidental
    assert sharp[1].accidental
    assert sharp[1].name == "F♯"


@pytest.mark.parametrize("width", ["phone", "wide", "small"])
def test_heads_never_crowd_and_every_note_is_drawn_once(width):
    written = [f"{letter}{octave}" for octave in (3, 4, 5) for letter in "CDEFGAB"] + ["Bb3", "Eb4", "F#4"]
    drawing = staff(notes=[make_note(note) for note in written], clef="treble", width=width)
    assert [head.note.written for head in drawing.heads] == written
    for a, b in combinations(drawing.heads, 2):
        assert abs(a.x - b.x) >= 20 or abs(a.y - b.y) > 5 * SPACE
    assert all(0 < head.x < drawing.width and 0 < head.y < head.name_y < drawing.height for head in drawing.heads)


@pytest.mark.parametrize(("count", "width"), [(1, "wide"), (9, "phone"), (17, "wide"), (17, "phone"), (23, "small")])
def test_the_lines_end_right_after_the_last_note_of_each_system(count, width):
    """Common practice, no source."""
    drawing = staff(notes=[make_note("B4")] * count, clef="treble", width=width)
    for _, y, end, _ in drawing.lines:
        last = max(head.x for head in drawing.heads if -4 * SPACE <= head.y - y <= 4 * SPACE)
        assert 9 < end - last <= 2 * SPACE, "past its head and ledger lines, by less than two spaces"
        assert end < drawing.width


def test_cents_stand_only_over_notes_that_are_off():
    notes = [
        make_note("D4", state=NoteState.OFF, cents=30.3),
        make_note("E4", state=NoteState.OTHER_FINGERING, cents=-12),
    ]
    assert [head.cents for head in staff(notes=notes, clef="treble", width="phone").heads] == ["+30", ""]
    flat = staff(notes=[make_note("D4", state=NoteState.OFF, cents=-12.4)], clef="treble", width="phone")
    assert flat.heads[0].cents == "−12"


def test_the_sentence_counts_each_state():
    notes = [make_note("C4"), make_note("D4", state=NoteState.OFF, cents=30), make_note("E4", state=NoteState.LOST)]
    assert summary_of(notes) == "Of 3 first-year notes: 1 as usual, 1 off pitch, 1 lost."
    assert summary_of([make_note("C4")]) == "All 1 first-year notes come as usual."
    assert summary_of([]) == "No first-year notes are listed for this kind."


def test_a_note_is_said_in_words():
    head = staff(notes=[make_note("Eb4", state=NoteState.OFF, cents=30.3)], clef="treble", width="phone").heads[0]
    assert head.said == "E♭4 off pitch, +30 cents"
    with override("es"):
        assert head.said == "E♭4 desafinada, +30 cents"


def test_the_ends_of_every_first_year_range_can_be_drawn_in_the_clef_of_the_kind():
    for kind in catalog().kinds.values():
        if kind.first_year:
            drawing = staff(notes=[make_note(note) for note in kind.first_year], clef=kind.clef, width="phone")
            assert all(0 < head.y < drawing.height for head in drawing.heads), kind.code
            assert len(drawing.ledgers) <= 8, f"{kind.code} reads far off its staff: is the clef right?"


@pytest.mark.parametrize(("clef", "line"), [("treble", 1), ("bass", 3), ("alto", 2), ("neutral", 2)])
def test_a_clef_stands_on_the_line_that_it_names(clef, line):
    """G clef: second line from below; F clef: fourth; C clef: the middle. A space is eight."""
    drawing = staff(notes=[make_note("E4")], clef=clef, width="phone")
    bottom = max(y for _, y, _, _ in drawing.lines)
    assert drawing.clefs
    assert all(path.startswith(f"M18 {n(bottom - 8 * line)}") for path in drawing.clefs)


def test_middle_c_has_one_short_line_below_a_treble_staff():
    drawing = staff(notes=[make_note("C4")], clef="treble", width="phone")
    bottom = max(y for _, y, _, _ in drawing.lines)
    ((x1, y1, x2, y2),) = drawing.ledgers
    x = drawing.heads[0].x
    assert (x1, y1, x2, y2) == pytest.approx((x - 9, bottom + 8, x + 9, bottom + 8))
    assert drawing.heads[0].y == bottom + 8


@pytest.mark.parametrize("clef", ["treble", "bass", "alto", "neutral"])
def test_a_note_shown_alone_stands_where_it_stands_among_others(clef):
    names = ["E2", "Bb2", "C4", "F#5", "D6"]
    among, alone = (
        staff(notes=[make_note(name) for name in names], clef=clef, width="wide"),
        lone_staff(names, clef=clef),
    )
    bottom = float(alone.lines.partition("H")[0].split()[1])
    assert [float(note.y) - bottom for note in alone.notes] == [head.y - bottom_of(among) for head in among.heads]
    assert sum(note.ledgers.count("M") for note in alone.notes) == len(among.ledgers)
    assert [bool(note.accidental) for note in alone.notes] == [bool(head.accidental) for head in among.heads]
    assert all(0 < float(note.y) < float(alone.height) for note in alone.notes)
