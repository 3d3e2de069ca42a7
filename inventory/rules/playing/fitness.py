"""For whom an instrument with limits is still enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.rules.notes import note_words
from inventory.rules.playing.reports import NoteState, PlayingReport

LEVEL_NAMES = {
    "first_year": "First year",
    "second_year": "Second year",
    "concert": "Concert band",
    "marching": "Marching",
}
LEVELS = tuple(LEVEL_NAMES)
MOST_NAMED = 8  # notes and ranges said; beyond them, how many notes


@dataclass(frozen=True, slots=True)
class LevelFit:
    """What the findings of an instrument mean to the players of one level. Notes that it is off at by its make do not count."""

    level: str
    name: str
    lost: tuple[str, ...]  # written notes
    off: tuple[str, ...]  # out of tune or weak
    other: tuple[str, ...]  # that need another fingering: nobody is hurt by it, somebody has to know
    functions_lost: tuple[str, ...]  # of a kind without notes; elsewhere the notes tell what they cost

    @property
    def is_enough(self) -> bool:
        return not (self.lost or self.off or self.functions_lost)

    @property
    def hurts(self) -> int:
        """How much is spoiled, to order by: a lost note counts two, one that is off one."""
        return 2 * len(self.lost) + len(self.off) + 2 * len(self.functions_lost)

    @property
    def misses(self) -> str:
        """Say it after the level's name: "loses Eb5, A5; F4 is off"; "" where nothing is missed."""
        said = []
        if self.lost:
            said.append(f"loses {note_words(self.lost, most=MOST_NAMED)}")
        if self.off:
            said.append(f"{note_words(self.off, most=MOST_NAMED)} {'is' if len(self.off) == 1 else 'are'} off")
        said += [f"not working: {function}" for function in self.functions_lost]
        return "; ".join(said)

    @property
    def refingered(self) -> str:
        """Say which notes need another fingering; "" where none does."""
        needs = "needs" if len(self.other) == 1 else "need"
        return f"{note_words(self.other, most=MOST_NAMED)} {needs} another fingering" if self.other else ""

    @property
    def words(self) -> str:
        return "; ".join(one for one in (self.misses or "hurts nobody", self.refingered) if one)


def level_fits(*, reports: Mapping[str, PlayingReport]) -> tuple[LevelFit, ...]:
    """Return what each level would miss, in the order of the levels."""
    return tuple(level_fit(reports[level]) for level in LEVELS if level in reports)


def level_fit(report: PlayingReport) -> LevelFit:
    found = [note for note in report.notes if note.because]
    return LevelFit(
        level=report.level,
        name=LEVEL_NAMES.get(report.level, report.level),
        lost=tuple(note.written for note in found if note.state is NoteState.LOST),
        off=tuple(note.written for note in found if note.state is NoteState.OFF),
        other=tuple(note.written for note in found if note.state is NoteState.OTHER_FINGERING),
        functions_lost=() if report.notes else report.functions_lost,
    )


def for_everybody(*, reports: Mapping[str, PlayingReport]) -> tuple[str, ...]:
    """Return what is in the way of every player alike, as sentences: an instrument that cannot be tuned."""
    mistuning = next((report.mistuning for report in reports.values()), "")
    return (f"It {mistuning}.",) if mistuning else ()
