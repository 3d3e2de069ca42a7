"""Rows of a list that are no instruments: sums, counts below the list, headings inside it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from core.cells import Cell, CellTrouble, SheetRow
from core.translation import gettext as _
from inventory.columns import SECTIONS
from inventory.rules.intake.headings import normal_heading
from inventory.rules.intake.parse.reading import is_error

_TOTAL: Final = re.compile(
    r"(?:(?:grand|sub|running|sheet|page)[\s-]*)?totals?(?:\s+(?:of|for|number|value|cost|count)\b.{0,40})?"
    r"|(?:(?:grand|sub)[\s-]*)?totals?\s*[:=].{0,40}|totals?\s+[\d$][\d,.$ ]*|totals?\s+\D{1,40}[:=]?\s*\d*"
    r"|(?:sum|count|average|avg|mean)\s*[:=]?\s*[\d$,.]*|(?:sum|count|number)\s+of\s.{1,40}"
    r"|.{1,40}\s(?:sub)?totals?\s*[:=]?\s*[\d$,.]*",
    re.IGNORECASE,
)
_FIGURE: Final = re.compile(r"[-(]?\s*[$€]?\s*[\d,.' ]+\s*%?\)?")
LARGEST_COUNT: Final = 3  # digits of a number that only counts
NAMING: Final = ("asset_number", "serial", "maker", "model", "maker_model")


def why_no_instrument(row: SheetRow, *, header: Sequence[str], columns: Mapping[str, int], is_below: bool) -> str:
    """Say why the row stands for no instrument; "" where it may be one.

    ``columns`` is where each field is found; ``is_below`` says that a sum came before it.
    """
    filled = {index: cell for index, cell in enumerate(row.cells) if cell != ""}
    texts = {index: " ".join(str(cell).split()) for index, cell in filled.items()}
    if len(filled) > 1 and all(
        index < len(header) and normal_heading(text) == normal_heading(header[index]) for index, text in texts.items()
    ):
        return _("It repeats the headings.")
    if len(filled) == 1 and normal_heading(*texts.values()) in SECTIONS:
        return _("It is a heading inside the list.")
    naming = [columns[field] for field in NAMING if columns.get(field) in filled]
    names, kind = bool(naming), columns.get("kind")
    for index, text in texts.items():
        is_sum = _TOTAL.fullmatch(text) and (index == kind or kind not in filled)
        if is_sum and all(at == index or _is_figure(filled[at]) for at in naming):
            return _("It is a total: “%(text)s”.", text=text[:40])
    if not names and kind not in filled and all(map(_is_figure, filled.values())):
        return _("It has only figures, as a total does.")
    if is_below and not names and len(filled) <= 2 and any(_counts(text) for text in texts.values()):
        return _("It is a count below the list.")
    return ""


def _is_figure(cell: Cell) -> bool:
    return isinstance(cell, CellTrouble) or is_error(cell) or _FIGURE.fullmatch(str(cell)) is not None


def _counts(text: str) -> bool:
    return text.isdigit() and len(text) <= LARGEST_COUNT
