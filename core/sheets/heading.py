"""Finding the header of a table that somebody laid out by hand: titles above it, two lines, merged cells."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from openpyxl.utils import get_column_letter

from core.sheets.cells import Cell, is_filled, trimmed

LONGEST_HEADING: Final = 60  # characters
ENOUGH_HEADINGS: Final = 2

_NUMBER = re.compile(r"[-+($]*[\d.,/: -]*\d[\d.,/: -]*[)%]*")

HeadRow = tuple[int, list[Cell]]  # number and cells
Area = tuple[int, int, int, int]  # first column, first row, last column, last row


@dataclass(frozen=True, slots=True)
class Heading:
    """``last_row`` is the number of the header's last line, 0 if there is no header."""

    names: tuple[str, ...]
    last_row: int


def fill_merged(rows: Sequence[HeadRow], merged: Sequence[Area]) -> list[HeadRow]:
    """Return the rows with the value of each merged area in all of its cells."""
    filled = {number: list(cells) for number, cells in rows}
    for left, top, right, bottom in merged:
        anchor = filled.get(top)
        if anchor is None or len(anchor) < left:
            continue
        value = anchor[left - 1]
        for number in range(top, bottom + 1):
            cells = filled.get(number)
            if cells is None:
                continue
            cells.extend([""] * (right - len(cells)))
            cells[left - 1 : right] = [value] * (right - left + 1)
    return [(number, filled[number]) for number, _ in rows]


def find_heading(
    rows: Sequence[HeadRow], *, merged: Sequence[Area] = (), is_heading: Callable[[str], bool] | None = None
) -> Heading:
    """Find the header among the first rows of a table.

    ``is_heading`` knows the words of the trade; the row with most of them wins. Without it, or when
    it knows fewer than two, the shape of the rows decides: short, different texts over the full width.
    """
    head = [(number, cells) for number, cells in fill_merged(rows, merged) if any(map(is_filled, cells))]
    width = max((len(trimmed(cells)) for _, cells in head), default=0)
    position = _best_known(head, is_heading)
    if position is None:
        position = _best_shaped(head)
    if position is None:
        return Heading(tuple(f"Column {get_column_letter(index + 1)}" for index in range(width)), 0)
    first, last = _lines(head, position, merged, is_heading)
    lines = [_group_filled(head[at][1], head[at + 1][1]) if at < last else head[at][1] for at in range(first, last + 1)]
    return Heading(_joined(lines, width), head[last][0])


def _texts(cells: Sequence[Cell]) -> list[str]:
    return [cell for cell in cells if isinstance(cell, str) and cell]


def _is_wordy(cells: Sequence[Cell]) -> bool:
    """Say whether every filled cell is a short text that is not a number."""
    filled = [cell for cell in cells if is_filled(cell)]
    return bool(filled) and all(
        isinstance(cell, str) and len(cell) <= LONGEST_HEADING and not _NUMBER.fullmatch(cell) for cell in filled
    )


def _known(cells: Sequence[Cell], is_heading: Callable[[str], bool]) -> int:
    return sum(1 for text in set(_texts(cells)) if len(text) <= LONGEST_HEADING and is_heading(text))


def _best_known(head: Sequence[HeadRow], is_heading: Callable[[str], bool] | None) -> int | None:
    if is_heading is None:
        return None
    scores = [_known(cells, is_heading) for _, cells in head]
    best = max(scores, default=0)
    return scores.index(best) if best >= ENOUGH_HEADINGS else None


def _best_shaped(head: Sequence[HeadRow]) -> int | None:
    widest = max((len(set(_texts(cells))) for _, cells in head), default=0)
    needed = 1 if widest <= 1 else max(2, widest / 2)
    for position, (_, cells) in enumerate(head):
        if len(set(_texts(cells))) >= needed:
            return position if _is_wordy(cells) and position + 1 < len(head) else None
    return None


def _lines(
    head: Sequence[HeadRow], position: int, merged: Sequence[Area], is_heading: Callable[[str], bool] | None
) -> tuple[int, int]:
    """Return the first and last line of the header around its best line."""
    number, cells = head[position]
    if position + 1 < len(head) and head[position + 1][0] == number + 1:
        below = head[position + 1][1]
        if _is_second_line(cells, below, head[position + 2 :]) and (
            _spans(merged, number) or _opens_group(cells, below, is_heading)
        ):
            return position, position + 1
    if position and head[position - 1][0] == number - 1:
        above = head[position - 1][1]
        names = len(set(_texts(above)))
        if _is_wordy(above) and names >= ENOUGH_HEADINGS:
            # A line of groups has fewer names than there are columns, or names those that the lower line leaves blank.
            fills_blanks = is_heading is not None and _opens_group(cells, above, is_heading)
            if names < len(_texts(cells)) or fills_blanks:
                return position - 1, position
    return position, position


def _spans(merged: Sequence[Area], number: int) -> bool:
    """Say whether a merged area of the line leaves room for a second line: it is wide, or reaches down."""
    return any(top == number and (bottom == number + 1 or right > left) for left, top, right, bottom in merged)


def _is_second_line(cells: Sequence[Cell], below: Sequence[Cell], rest: Sequence[HeadRow]) -> bool:
    if not _is_wordy(below):
        return False
    # A line of data looks like the lines after it; a second line of headings does not.
    changed = [
        index
        for index, cell in enumerate(below)
        if is_filled(cell)
        and (index >= len(cells) or cells[index] != cell)
        and any(index < len(row) and is_filled(row[index]) and not _is_wordy([row[index]]) for _, row in rest[:10])
    ]
    return bool(changed) or not rest


def _opens_group(cells: Sequence[Cell], below: Sequence[Cell], is_heading: Callable[[str], bool] | None) -> bool:
    """Say whether the lower line names columns that the upper one leaves blank (no merged areas in text files)."""
    opened = [
        text
        for index, text in enumerate(below)
        if isinstance(text, str) and text and not (index < len(cells) and is_filled(cells[index]))
    ]
    return bool(opened) and (is_heading is None or any(map(is_heading, opened)))


def _group_filled(upper: Sequence[Cell], lower: Sequence[Cell]) -> list[Cell]:
    """Carry a group's name to the right over blank cells that have a name below."""
    result: list[Cell] = []
    for index in range(max(len(upper), len(lower))):
        cell = upper[index] if index < len(upper) else ""
        has_below = index < len(lower) and is_filled(lower[index])
        goes_on = not is_filled(cell) and has_below and index > 0 and index - 1 < len(lower)
        if goes_on and is_filled(lower[index - 1]):
            cell = result[index - 1]
        result.append(cell)
    return result


def _joined(lines: Sequence[Sequence[Cell]], width: int) -> tuple[str, ...]:
    names = []
    for index in range(width):
        words: list[str] = []
        for line in lines:
            cell = line[index] if index < len(line) else ""
            word = " ".join(cell.split()) if isinstance(cell, str) else str(cell)
            if word and word not in words:
                words.append(word)
        names.append(" ".join(words))
    return tuple(names)
