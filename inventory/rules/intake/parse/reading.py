"""What reading a cell gives, and the words that people write for nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Generic, TypeVar

from core.sheets.cells import Cell, CellTrouble

T = TypeVar("T")

# Common practice, no source.
_SIGNS_FOR_NOTHING: Final = (
    "",
    "n/a",
    "na",
    "n.a.",
    "n.a",
    "none",
    "nil",
    "null",
    "-",
    "--",
    "---",
    ".",
    "?",
    "??",
    "???",
)
_WORDS_FOR_NOTHING: Final = (
    "no unknown unk unkn tbd tba blank illegible unreadable missing #n/a",
    "not known|not available|none given|not given|can't read|cannot read|not found|no number|no serial",
    "no serial number|no s/n|no sn|worn off",
)
NOTHING: Final = frozenset(
    _SIGNS_FOR_NOTHING
    + tuple(_WORDS_FOR_NOTHING[0].split())
    + tuple(word for line in _WORDS_FOR_NOTHING[1:] for word in line.split("|"))
)


class UnreadableError(ValueError):
    """A cell that cannot be understood; the message continues after the quoted cell: '“abc” is not a date'."""


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """A value, and a remark for the person who checks it if something was decided on the way."""

    value: T
    note: str = ""
    is_partial: bool = False  # a date of which only the month or year was given


def cell_text(cell: Cell) -> str:
    """Return the cell as one line of text; UnreadableError if the file itself gives nothing readable."""
    if isinstance(cell, CellTrouble):
        message = f"holds {cell.reason}; type the value itself"
        raise UnreadableError(message)
    if isinstance(cell, str):
        return " ".join(cell.split())
    return cell.isoformat()


def is_nothing(text: str) -> bool:
    """Say whether the text is a way of writing that there is nothing, or that nobody knows."""
    return text.casefold().strip() in NOTHING


def is_sign_for_nothing(text: str) -> bool:
    """Say whether the text is empty or a mere sign for it; "missing" says something about a condition."""
    return text.casefold().strip() in _SIGNS_FOR_NOTHING
