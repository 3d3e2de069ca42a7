"""Finds the header of a table laid out by hand: titles above it, two header lines, merged cells."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from openpyxl.utils import get_column_letter

from core.cells import Cell, trimmed
from core.sheets.xlsx_reading import WIDEST_SHEET
from core.translation import gettext as _

LONGEST_HEADING: Final = 60  # characters
ENOUGH_HEADINGS: Final = 2

_NUMBER = re.compile(r"[-+($]*[\d.,/: -]*\d[\d.,/: -]*[)%]*")

HeadRow = tuple[int, list[Cell]]  # number and cells
Area = tuple[int, int, int, int]  # first column, first row, last column, last row
IsHeading = Callable[[str], bool]


class Heading(NamedTuple):
    names: tuple[str, ...]
    last_row: int  # row number of the header's last line, 0 without a header


def find_heading(
    rows: Sequence[HeadRow], *, merged: Sequence[Area] = (), is_heading: IsHeading | None = None
) -> Heading:
    """Find the header among the first rows of a table.

    ``is_heading`` recognizes known headings; the row with the most of them wins. Without it, or if it recognizes fewer
    than two, the shape of the rows decides: short, different texts over the full width.
    """
    filled = [(number, cells) for number, cells in _fill_merged(rows, merged) if any(cells)]
    width = max((len(trimmed(cells)) for _, cells in filled), default=0)
    head = [(number, (cells + [""] * width)[:width]) for number, cells in filled]
    lines = [cells for _, cells in head]
    position = _best_known(lines, is_heading) if is_heading else None
    if position is None:
        position = _best_shaped(lines)
    if position is None:
        letters = (get_column_letter(index + 1) for index in range(width))
        return Heading(tuple(_("Column %(letter)s", letter=letter) for letter in letters), 0)
    first, last = _first_and_last(head, position, merged, is_heading)
    upper, lower = lines[first], lines[last]
    if first < last:
        upper = _group_filled(upper, lower)
    return Heading(tuple(map(_joined, upper, lower)), head[last][0])


def _fill_merged(rows: Sequence[HeadRow], merged: Sequence[Area]) -> list[HeadRow]:
    """Return the rows with each merged area's value in all of its cells.

    Areas that a spreadsheet program merged never overlap, so all of them together fill no more cells than there are.
    """
    filled = {number: list(cells) for number, cells in rows}
    numbers = sorted(filled)
    cells_left = len(filled) * WIDEST_SHEET
    for left, top, right, bottom in merged:
        if left > WIDEST_SHEET or len(filled.get(top, ())) < left:
            continue
        value, end = filled[top][left - 1], min(right, WIDEST_SHEET)
        for number in numbers[bisect_left(numbers, top) : bisect_right(numbers, bottom)]:
            cells_left -= end - left + 1
            if cells_left < 0:
                return list(filled.items())
            cells = filled[number]
            cells.extend([""] * (end - len(cells)))
            cells[left - 1 : end] = [value] * (end - left + 1)
    return list(filled.items())


def _texts(cells: Sequence[Cell]) -> list[str]:
    return [cell for cell in cells if isinstance(cell, str) and cell]


def _is_wordy(cells: Sequence[Cell]) -> bool:
    """Whether every filled cell is a short text that is not a number."""
    filled = list(filter(None, cells))
    return bool(filled) and all(
        isinstance(cell, str) and len(cell) <= LONGEST_HEADING and not _NUMBER.fullmatch(cell) for cell in filled
    )


def _best_known(lines: Sequence[list[Cell]], is_heading: IsHeading) -> int | None:
    scores = [sum(len(text) <= LONGEST_HEADING and is_heading(text) for text in set(_texts(cells))) for cells in lines]
    best = max(scores, default=0)
    return scores.index(best) if best >= ENOUGH_HEADINGS else None


def _best_shaped(lines: Sequence[list[Cell]]) -> int | None:
    widths = [len(set(_texts(cells))) for cells in lines]
    widest = max(widths, default=0)
    needed = 1 if widest <= 1 else max(2, widest / 2)
    position = next((position for position, width in enumerate(widths) if width >= needed), len(lines))
    return position if position + 1 < len(lines) and _is_wordy(lines[position]) else None


def _first_and_last(
    head: Sequence[HeadRow], position: int, merged: Sequence[Area], is_heading: IsHeading | None
) -> tuple[int, int]:
    """Return the first and last header line around the best one."""
    number, cells = head[position]
    if position + 1 < len(head) and head[position + 1][0] == number + 1:
        below = head[position + 1][1]
        # A merged area in this line means a second one: it is wide, or reaches down.
        spans = any(top == number and (bottom == number + 1 or right > left) for left, top, right, bottom in merged)
        if _is_second_line(cells, below, head[position + 2 :]) and (spans or _opens_group(cells, below, is_heading)):
            return position, position + 1
    if position and head[position - 1][0] == number - 1:
        above = head[position - 1][1]
        names = len(set(_texts(above)))
        if _is_wordy(above) and names >= ENOUGH_HEADINGS:
            # A line of groups has fewer names than columns, or names the columns that the lower line leaves blank.
            fills_blanks = is_heading is not None and _opens_group(cells, above, is_heading)
            if names < len(_texts(cells)) or fills_blanks:
                return position - 1, position
    return position, position


def _is_second_line(cells: Sequence[Cell], below: Sequence[Cell], rest: Sequence[HeadRow]) -> bool:
    """Whether the line differs in kind from those after it; a line of data would not."""
    return _is_wordy(below) and (
        not rest
        or any(
            under and over != under and any(row[index] and not _is_wordy([row[index]]) for _, row in rest[:10])
            for index, (over, under) in enumerate(zip(cells, below, strict=True))
        )
    )


def _opens_group(cells: Sequence[Cell], below: Sequence[Cell], is_heading: IsHeading | None) -> bool:
    """Whether the lower line names columns that the upper one leaves blank (CSV files have no merged areas)."""
    opened = [text for over, text in zip(cells, below, strict=True) if not over and isinstance(text, str) and text]
    return bool(opened) and (is_heading is None or any(map(is_heading, opened)))


def _group_filled(upper: Sequence[Cell], lower: Sequence[Cell]) -> list[Cell]:
    """Copy a group's name to the right over blank cells that have a name below."""
    result = list(upper)
    for index in range(1, len(result)):
        if not result[index] and lower[index] and lower[index - 1]:
            result[index] = result[index - 1]
    return result


def _joined(upper: Cell, lower: Cell) -> str:
    words = (" ".join(cell.split()) if isinstance(cell, str) else str(cell) for cell in (upper, lower))
    return " ".join(dict.fromkeys(filter(None, words)))
