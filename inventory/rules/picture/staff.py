"""First-year notes on a staff: which come as usual, by another fingering, off pitch, or not at all.

The note names are scientific pitch as written (C4 is middle C); the state is told by shape, color and words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from core.translation import gettext as _
from core.translation import ngettext
from inventory.rules.picture.art import glyph
from inventory.rules.picture.shapes import n
from inventory.rules.picture.trend import signed
from inventory.rules.playing.reports import NoteState

SPACE = 8.0
LETTERS = "CDEFGAB"
ACCIDENTALS = {"#": "sharp", "b": "flat"}  # -> glyph
Shape = tuple[str, ...]  # paths to be filled
BOTTOM_LINE = {"treble": "E4", "bass": "G2", "alto": "F3", "neutral": "E4"}
CLEF_LINE = {"treble": 2, "bass": 6, "alto": 4, "neutral": 4}  # steps above the bottom line where the clef sits
FIRST, PAST = 50.0, 12.0  # where the notes begin; how far the lines go past the middle of the last
TOP_STEP = 8  # the top line, in steps above the bottom line
PAGES = {"phone": (288.0, 8), "wide": (420.0, 12), "small": (328.0, 12)}  # width, notes in a system at most


def state_words(state: NoteState, count: int = 1) -> str:
    """Name the state of one note, or of so many: other languages have two forms."""
    if state is NoteState.USUAL:
        return ngettext("as usual", "as usual", count)
    if state is NoteState.OTHER_FINGERING:
        return ngettext("by another fingering", "by another fingering", count)
    return ngettext("off pitch", "off pitch", count) if state is NoteState.OFF else ngettext("lost", "lost", count)


@dataclass(frozen=True, slots=True)
class StaffNote:
    """One written note, e.g. "Eb4"; cents are sharp positive, None when lost."""

    written: str
    state: NoteState
    cents: float | None = None
    fingering: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """A note on the staff: where its head stands and what is said with it."""

    note: StaffNote
    x: float
    y: float
    name: str  # "E♭"
    cents: str  # "+30" or ""
    accidental: Shape
    name_y: float

    @property
    def said(self) -> str:
        tail = ", " + _("%(cents)s cents", cents=self.cents) if self.cents else ""
        by = f" ({self.note.fingering})" if self.note.fingering and self.note.state is not NoteState.LOST else ""
        return f"{self.name}{self.note.written[-1]} {state_words(self.note.state)}{by}{tail}"


@dataclass(frozen=True, slots=True)
class StaffDrawing:
    """Systems of a staff with their heads. Lines are (x1, y1, x2, y2)."""

    title: str
    width: float
    height: float
    lines: tuple[tuple[float, float, float, float], ...]
    ledgers: tuple[tuple[float, float, float, float], ...]
    clefs: Shape
    heads: tuple[Head, ...]


@dataclass(frozen=True, slots=True)
class LoneNote:
    """One note of a staff that shows one at a time. Paths: its ledger lines and its accidental."""

    written: str
    x: str
    y: str
    ledgers: str
    accidental: Shape


@dataclass(frozen=True, slots=True)
class LoneStaff:
    """A short staff, high enough for each of its notes, of which one is shown at a time."""

    width: str
    height: str
    lines: str
    clef: Shape
    notes: tuple[LoneNote, ...]


def steps_of(written: str) -> int:
    """Return a written note's place on the staff in diatonic steps; its accidental does not move it."""
    return LETTERS.index(written[0]) + 7 * int(written[-1])


def shown_name(written: str) -> str:
    return written[:-1].replace("#", "♯").replace("b", "♭") if len(written) > len("C4") else written[0]


def summary_of(notes: Sequence[StaffNote]) -> str:
    """Return the states of all notes in one sentence, fewest words first."""
    if not notes:
        return _("No first-year notes are listed for this kind.")
    counts = {state: sum(note.state is state for note in notes) for state in NoteState}
    if counts[NoteState.USUAL] == len(notes):
        return _("All %(number)s first-year notes come as usual.", number=len(notes))
    told = [f"{counts[state]} {state_words(state, counts[state])}" for state in NoteState if counts[state]]
    return _("Of %(number)s first-year notes: %(states)s.", number=len(notes), states=", ".join(told))


def staff(*, notes: Sequence[StaffNote], clef: str, width: Literal["phone", "wide", "small"]) -> StaffDrawing:
    """Return the notes on as many systems as keep them apart. ``clef``: treble, bass, alto, neutral (first word counts)."""
    name = clef_name(clef)
    page, most = PAGES[width]
    systems = ceil(len(notes) / most) if notes else 1
    each = ceil(len(notes) / systems) if notes else 0
    gap = min((page - FIRST - 8) / max(each, 1), 40.0)
    lines: list[tuple[float, float, float, float]] = []
    ledgers: list[tuple[float, float, float, float]] = []
    clefs: list[str] = []
    heads: list[Head] = []
    y = 0.0
    for number in range(systems):
        mine = notes[number * each : (number + 1) * each]
        places = [place_of(note.written, name) for note in mine]
        above = max(
            [
                TOP_STEP + 3,
                *(
                    place + (4 if note.cents is not None and note.state is NoteState.OFF else 2)
                    for place, note in zip(places, mine, strict=True)
                ),
            ]
        )
        below = min([-3, *places])
        base = y + above * SPACE / 2 + 4  # y of the bottom line
        right = FIRST + gap * (len(mine) - 0.5) + PAST if mine else FIRST
        lines += [(2, base - k * SPACE, right, base - k * SPACE) for k in range(5)]
        clefs += shape(name, x=18, y=base - CLEF_LINE[name] * SPACE / 2)
        name_y = base - below * SPACE / 2 + 17
        for i, (note, place) in enumerate(zip(mine, places, strict=True)):
            x, head_y = FIRST + gap * (i + 0.5), base - place * SPACE / 2
            ledgers += [(x - 9, base - k * SPACE / 2, x + 9, base - k * SPACE / 2) for k in ledger_steps(place)]
            heads.append(head_of(note, x=round(x, 1), y=head_y, name_y=name_y))
        y = name_y + 16
    return StaffDrawing(
        title=_("First-year notes"),
        width=page,
        height=y,
        lines=tuple(lines),
        ledgers=tuple(ledgers),
        clefs=tuple(clefs),
        heads=tuple(heads),
    )


def lone_staff(written: Sequence[str], *, clef: str) -> LoneStaff:
    name = clef_name(clef)
    places = {note: place_of(note, name) for note in written}
    above, below = (
        max(TOP_STEP + 4, *(place + 3 for place in places.values())),
        min(-4, *(p - 2 for p in places.values())),
    )
    base = above * SPACE / 2  # y of the bottom line
    x, right = 64.0, 84.0

    def line(step: float, start: float, end: float) -> str:
        return f"M{n(start)} {n(base - step * SPACE / 2)}H{n(end)}"

    def lone(note: str) -> LoneNote:
        y = base - places[note] * SPACE / 2
        sign = ACCIDENTALS.get(note[1:-1], "")
        return LoneNote(
            written=note,
            x=n(x),
            y=n(y),
            ledgers="".join(line(step, x - 10, x + 10) for step in ledger_steps(places[note])),
            accidental=shape(sign, x=x - 14, y=y) if sign else (),
        )

    return LoneStaff(
        width=n(right + 2),
        height=n((above - below) * SPACE / 2),
        lines="".join(line(step, 2, right) for step in range(0, TOP_STEP + 1, 2)),
        clef=shape(name, x=18, y=base - CLEF_LINE[name] * SPACE / 2),
        notes=tuple(map(lone, places)),
    )


def clef_name(said: str) -> str:
    first = said.partition(" ")[0]
    return first if first in CLEF_LINE else "treble"


def place_of(written: str, clef: str) -> int:
    """Return at which step above the bottom line a note stands; drums stand on the middle line."""
    return TOP_STEP // 2 if clef == "neutral" else steps_of(written) - steps_of(BOTTOM_LINE[clef])


def ledger_steps(place: int) -> list[int]:
    """Return at which steps above the bottom line a note needs ledger lines."""
    return [*range(-2, place - 1, -2), *range(TOP_STEP + 2, place + 1, 2)]


def shape(name: str, *, x: float, y: float) -> Shape:
    """Return a clef about the line that it names, or an accidental about its note; drawn for ``SPACE``."""
    return tuple(stroke.d for stroke in glyph("notes", name, x=x, y=y))


def head_of(note: StaffNote, *, x: float, y: float, name_y: float) -> Head:
    accidental = note.written[1:-1]
    cents = signed(note.cents) if note.cents is not None and note.state is NoteState.OFF else ""
    return Head(
        note=note,
        x=x,
        y=y,
        name=shown_name(note.written),
        cents=cents,
        accidental=shape(ACCIDENTALS[accidental], x=x - 12, y=y) if accidental in ACCIDENTALS else (),
        name_y=name_y,
    )
