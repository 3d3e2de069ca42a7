"""For whom an instrument with limits is still enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from inventory.rules.notes import note_words
from inventory.rules.playing.reports import NoteState, PlayingReport

LEVEL_NAMES = {
    "first_year": gettext_noop("First year"),
    "second_year": gettext_noop("Second year"),
    "concert": gettext_noop("Concert band"),
    "marching": gettext_noop("Marching"),
}
NOTES_OF_LEVEL = {
    "first_year": gettext_noop("first-year"),
    "second_year": gettext_noop("second-year"),
    "concert": gettext_noop("concert"),
    "marching": gettext_noop("marching"),
}  # before "notes"
LEVELS = tuple(LEVEL_NAMES)
MOST_NAMED = 8  # notes and ranges said; beyond them, how many notes


def level_name(level: str) -> str:
    return _(LEVEL_NAMES.get(level, level))


@dataclass(frozen=True, slots=True)
class LevelFit:
    """What the findings of an instrument mean to the players of one level.

    Notes that it is off at by its make do not count.
    """

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
        parts = []
        if self.lost:
            parts.append(_("loses %(notes)s", notes=note_words(self.lost, most=MOST_NAMED)))
        if self.off:
            notes = note_words(self.off, most=MOST_NAMED)
            parts.append(ngettext("%(notes)s is off", "%(notes)s are off", len(self.off), notes=notes))
        parts += [_("not working: %(function)s", function=function) for function in self.functions_lost]
        return "; ".join(parts)

    @property
    def refingered(self) -> str:
        """Say which notes need another fingering; "" where none does."""
        if not self.other:
            return ""
        notes = note_words(self.other, most=MOST_NAMED)
        return ngettext(
            "%(notes)s needs another fingering", "%(notes)s need another fingering", len(self.other), notes=notes
        )

    @property
    def words(self) -> str:
        return "; ".join(one for one in (self.misses or _("no notes missed"), self.refingered) if one)


def level_fits(*, reports: Mapping[str, PlayingReport]) -> tuple[LevelFit, ...]:
    """Return what each level would miss, in the order of the levels."""
    return tuple(level_fit(reports[level]) for level in LEVELS if level in reports)


def level_fit(report: PlayingReport) -> LevelFit:
    found = [note for note in report.notes if note.because]
    return LevelFit(
        level=report.level,
        name=level_name(report.level),
        lost=tuple(note.written for note in found if note.state is NoteState.LOST),
        off=tuple(note.written for note in found if note.state is NoteState.OFF),
        other=tuple(note.written for note in found if note.state is NoteState.OTHER_FINGERING),
        functions_lost=() if report.notes else report.functions_lost,
    )


def for_everybody(*, reports: Mapping[str, PlayingReport]) -> tuple[str, ...]:
    """Return what is in the way of every player alike, as sentences: an instrument that cannot be tuned."""
    mistuning = next((report.mistuning for report in reports.values()), "")
    return (_("It %(mistuning)s.", mistuning=mistuning),) if mistuning else ()
