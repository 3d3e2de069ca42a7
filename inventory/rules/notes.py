"""Written notes as a player reads them: real sharps and flats, neighbors drawn together as a range."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from core.translation import gettext as _
from inventory.rules.pitch import midi_of

_FLAT, _SHARP = re.compile(r"(?<![A-SU-Z])([A-G]{1,2})b(?![A-Za-z])"), re.compile(r"([A-G])#")
LEAST_RUN = 4  # neighboring half steps that are said as a range


def shown_note(written: str) -> str:
    """Write a note with real sharps and flats; what is not a note, such as a drum of a set, as it is."""
    return written.replace("#", "♯").replace("b", "♭") if written[:1] in "ABCDEFG" else written


def signed(text: str) -> str:
    """Write the notes and keys that a text names with real sharps and flats: "Clarinet in B♭", "F♯ pad", "TB♭"."""
    return _SHARP.sub(r"\1♯", _FLAT.sub(r"\1♭", text))


def unsigned(text: str) -> str:
    """Write them as one types them: "Clarinet in Bb"."""
    return text.replace("♭", "b").replace("♯", "#")


def runs_of(notes: Iterable[str]) -> list[list[str]]:
    """Return the notes from low to high: each by itself, or with its neighbors where at least four follow each other."""
    runs: list[list[str]] = []
    for note in sorted(dict.fromkeys(notes), key=_height):
        if runs and _height(note) - _height(runs[-1][-1]) <= 1:
            runs[-1].append(note)
        else:
            runs.append([note])
    return [part for run in runs for part in ([run] if len(run) >= LEAST_RUN else [[note] for note in run])]


def _height(note: str) -> float:
    """Return its MIDI number; what is not a note comes last, next to nothing."""
    try:
        return midi_of(note)
    except ValueError:
        return math.inf


def run_words(run: Sequence[str]) -> str:
    first, last = shown_note(run[0]), shown_note(run[-1])
    return first if len(run) == 1 else _("%(first)s to %(last)s", first=first, last=last)


def note_words(notes: Iterable[str], *, most: int = 0) -> str:
    """Say the notes once: "E3 to B♭3, B4, C5". Beyond ``most`` pieces (0 for all), how many more notes."""
    runs = runs_of(notes)
    if not most or len(runs) <= most:
        return ", ".join(map(run_words, runs))
    shown, more = runs[: most - 2], sum(map(len, runs[most - 2 :]))
    return _("%(notes)s and %(more)s more", notes=", ".join(map(run_words, shown)), more=more)
