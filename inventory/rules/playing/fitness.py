"""For whom an instrument with limits is still enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.rules.playing.reports import PlayingReport

LEVELS = ("first_year", "second_year", "concert", "marching")
WORDS = {
    "first_year": "a first-year player",
    "second_year": "a second-year player",
    "concert": "the concert band",
    "marching": "marching",
}


@dataclass(frozen=True, slots=True)
class Fit:
    """Whom a horn with limits does not hurt."""

    unhurt: tuple[str, ...]  # levels that neither lose a note nor have one off
    hurt: Mapping[str, tuple[str, ...]]  # level -> written notes lost or off
    words: str  # for the loan page


def fit(*, reports: Mapping[str, PlayingReport]) -> Fit:
    """Return for which levels nothing is lost or off, and the same in words."""
    hurt = {level: tuple(note.written for note in report.notes if note.is_spoiled) for level, report in reports.items()}
    hurt = {level: notes for level, notes in hurt.items() if notes or reports[level].functions_lost}
    unhurt = tuple(level for level in reports if level not in hurt)
    if not reports:
        words = "No range is stated for this kind: judge by the functions it has lost."
    elif not hurt:
        words = "Every level can play all its notes on it."
    elif not unhurt:
        words = f"Hurts every level; {_missing(hurt)}."
    else:
        words = f"Right for {_join([WORDS[level] for level in unhurt])}; {_missing(hurt)}."
    return Fit(unhurt=unhurt, hurt=hurt, words=words)


def _missing(hurt: Mapping[str, tuple[str, ...]]) -> str:
    """Return which notes each level misses, levels with the same notes named together."""
    same: dict[tuple[str, ...], list[str]] = {}
    for level, notes in hurt.items():
        same.setdefault(notes, []).append(WORDS[level])
    return "; ".join(
        f"{_join(levels)} would miss {', '.join(notes) or 'what it can no longer do'}" for notes, levels in same.items()
    )


def _join(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
