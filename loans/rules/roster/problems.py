"""What is wrong with a roster, each with file, row, column and reason."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Final

from core.translation import gettext as _

MOST_OF_A_FILE: Final = 1_000
LONGEST_QUOTE: Final = 40  # characters of a cell that a reason repeats


@dataclass(frozen=True, slots=True)
class Problem:
    """``row`` counts records from 1, the header; None where it is about the file, as ``column`` is ""."""

    file: str
    row: int | None
    column: str
    reason: str

    @property
    def sentence(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(_("row %(row)d", row=self.row))
        return ", ".join([*place, *filter(None, [self.column])]) + ": " + self.reason


class UnreadableError(Exception):
    """A file, or what should be a roster, that cannot be read. ``str()`` is the reason, a whole sentence."""


@dataclass(slots=True)
class Problems:
    """Collects problems: of each file the first ones, and how many more there are."""

    found: list[Problem] = field(default_factory=list)
    _counts: Counter[str] = field(default_factory=Counter)

    def add(self, file: str, row: int | None, column: str, reason: str) -> None:
        self._counts[file] += 1
        if self._counts[file] <= MOST_OF_A_FILE:
            self.found.append(Problem(file, row, column, reason))

    def all(self) -> tuple[Problem, ...]:
        """Return them by file as they were read, each file's by row."""
        files = list(self._counts)
        found = sorted(self.found, key=lambda one: (files.index(one.file), one.row or 0))
        more = [
            Problem(file, None, "", _("There are %(more)s more problems in this file.", more=f"{more:,}"))
            for file, count in self._counts.items()
            if (more := count - MOST_OF_A_FILE) > 0
        ]
        return (*found, *more)


def quoted(text: str) -> str:
    """Return a cell's text as a reason repeats it."""
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"
