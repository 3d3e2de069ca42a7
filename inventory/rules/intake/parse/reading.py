"""What reading a cell gives, and the words that people write for nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import wraps
from typing import Any, Concatenate, Final, Generic, ParamSpec, TypeVar

from core.cells import Cell, CellTrouble
from core.translation import gettext as _

T = TypeVar("T")
R = TypeVar("R", bound="Reading[Any]")
P = ParamSpec("P")

_ABOUT = re.compile(
    r"^(c\.|ca\.?|circa|about|approx\.?|around|~)\s*|\s*(\?|\(\?\)|approx\.?|est\.?|or so)$", re.IGNORECASE
)
# Common practice, no source.
_SIGNS_FOR_NOTHING: Final = frozenset(
    ["", "n/a", "na", "n.a.", "n.a", "none", "nil", "null", "-", "--", "---", ".", "?", "??", "???"]
)
NOTHING: Final = _SIGNS_FOR_NOTHING | {
    "no", "unknown", "unk", "unkn", "tbd", "tba", "blank", "illegible", "unreadable", "missing", "#n/a", "not known",
    "not available", "none given", "not given", "can't read", "cannot read", "not found", "no number", "no serial",
    "no serial number", "no s/n", "no sn", "worn off",
}  # fmt: skip


# What spreadsheet programs show for a value that they could not work out, saved as text; "#N/A" is a way to say nothing.
_ERROR: Final = re.compile(
    r"#(ref|div/0|value|name|null|num|spill|calc|error|getting_data|blocked|busy|connect|field|unknown)[!?]?|err:\d+"
    r"|#{3,}",
    re.IGNORECASE,
)


class UnreadableError(ValueError):
    """A cell that cannot be understood; the message continues after the quoted cell: '“abc” is not a date'."""


class AskedError(UnreadableError):
    """A cell that cannot be understood until something is said once for the whole list."""

    def __init__(self, message: str, *, asks: str) -> None:
        """``asks`` is "kind:" with a loose word, or "date"."""
        self.asks = asks
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """A value, and a remark for the person who checks it if something was decided on the way."""

    value: T
    note: str = ""
    is_partial: bool = False  # a date of which only the month or year was given


def cell_text(cell: Cell) -> str:
    """Return the cell as one line of text; UnreadableError if the file itself gives nothing readable."""
    if isinstance(cell, CellTrouble):
        raise UnreadableError(_("holds %(what)s; type the value itself", what=_(cell.reason)))
    if isinstance(cell, date):
        return cell.isoformat()
    if is_error(cell):
        raise UnreadableError(_("is an error of the spreadsheet program; type the value itself"))
    return " ".join(cell.split())


def is_error(cell: Cell) -> bool:
    """Say whether the cell is what a spreadsheet program shows instead of a value, such as #REF!"""
    return isinstance(cell, str) and _ERROR.fullmatch(cell.strip()) is not None


def without_doubt(text: str) -> tuple[str, str]:
    """Return the text without "about", "?" and the like, and a note if it had one of them."""
    plain, count = _ABOUT.subn("", text)
    return plain.strip(), _("marked as uncertain") if count else ""


def is_nothing(text: str) -> bool:
    """Say whether the text is a way of writing that there is nothing, or that nobody knows."""
    return text.casefold().strip() in NOTHING


def is_sign_for_nothing(text: str) -> bool:
    """Say whether the text is empty or a mere sign for it; "missing" says something about a condition."""
    return text.casefold().strip() in _SIGNS_FOR_NOTHING


def reads_cells(
    nothing: Any, *, no_date: str = ""
) -> Callable[[Callable[Concatenate[str, P], R]], Callable[Concatenate[Cell, P], R]]:
    """Turn a reader of one line of text into a reader of cells; the words for nothing give ``nothing``.

    ``no_date`` is said of a cell that holds a date; without it a date is read as text.
    """

    def decorate(read: Callable[Concatenate[str, P], R]) -> Callable[Concatenate[Cell, P], R]:
        @wraps(read)
        def read_cell(cell: Cell, /, *args: P.args, **kwargs: P.kwargs) -> R:
            if no_date and isinstance(cell, date):
                raise UnreadableError(_(no_date))
            text = cell_text(cell)
            empty: Any = Reading(nothing)
            return empty if is_nothing(text) else read(text, *args, **kwargs)

        return read_cell

    return decorate
