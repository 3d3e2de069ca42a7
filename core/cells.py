"""Spreadsheet cells as plain values, whatever the file format; nothing here reads or writes files.

Numbers are text in their shortest exact form ("12345", "1234.5", "80%"), so that a value means the same whether it
came from a text file or a workbook.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from core.translation import gettext_noop

EXCEL_DIGITS: Final = 15  # a workbook keeps numbers as doubles; more digits are noise
FORMULA_STARTS: Final = "=+-@\t\r\n"

_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufeff\u200b\u2060]")
_QUOTED_FORMULA = re.compile(r'="([^"]*)"')
_PADDED = re.compile(r"0{2,}")


@dataclass(frozen=True, slots=True)
class CellTrouble:
    """A cell whose content cannot be read."""

    reason: str  # continues "the cell holds …"

    def __str__(self) -> str:
        return ""


Cell = str | date | CellTrouble

FORMULA_WITHOUT_VALUE: Final = CellTrouble(gettext_noop("a formula without a value"))


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One filled row; ``number`` counts from 1, as a spreadsheet program does."""

    number: int
    cells: tuple[Cell, ...]


def clean_text(text: str) -> str:
    """Return the text without invisible characters and surrounding white space."""
    return _UNPRINTABLE.sub("", text).replace("\xa0", " ").strip()


def loose_text(text: str) -> Cell:
    """Return a cell of a text file, where a leading apostrophe or ="…" only marks it as text."""
    text = clean_text(text)
    if not text:
        return ""
    if text[0] == "'" and len(text) > 1 and text[1] in FORMULA_STARTS:
        return text[1:]
    if text[0] == "=":
        quoted = _QUOTED_FORMULA.fullmatch(text)
        return quoted[1].strip() if quoted else FORMULA_WITHOUT_VALUE
    return text


def number_text(value: float | Decimal, *, number_format: str = "") -> str:
    """Return a workbook's number as people read it: no ".0", no exponent; leading zeros and percent as formatted."""
    number = Decimal(value) if isinstance(value, int | Decimal) else Decimal(f"{value:.{EXCEL_DIGITS}g}")
    if "%" in number_format:
        return f"{_plain(number * 100)}%"
    text = _plain(number)
    if _PADDED.fullmatch(number_format) and text.isdigit():
        return text.zfill(len(number_format))
    return text


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def trimmed(cells: list[Cell]) -> list[Cell]:
    """Return the cells without the empty ones at the end."""
    end = len(cells)
    while end and cells[end - 1] == "":
        end -= 1
    return cells[:end]


def cell_words(cell: Cell) -> str:
    """Return a cell as it is typed: a date as 2019-08-01, nothing for what cannot be read."""
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def as_json(cells: Iterable[Cell]) -> list[Any]:
    """Return the cells as JSON values; text stays a string."""
    return [
        cell
        if isinstance(cell, str)
        else {"trouble": cell.reason}
        if isinstance(cell, CellTrouble)
        else {"date": cell.isoformat()}
        for cell in cells
    ]


def from_json(values: Iterable[Any]) -> tuple[Cell, ...]:
    """Return the cells that ``as_json`` was given."""
    return tuple(
        value
        if isinstance(value, str)
        else CellTrouble(value["trouble"])
        if "trouble" in value
        else date.fromisoformat(value["date"])
        for value in values
    )
