"""One way in: the bytes of a file that somebody sent become a header and rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import chain, islice
from pathlib import Path, PurePath
from typing import Final

from core.sheets.cells import Cell, Sheet, SheetRow, is_filled, trimmed
from core.sheets.csv_reading import csv_rows, decode, sniff_delimiter
from core.sheets.exceptions import SheetRefusedError
from core.sheets.heading import Area, Heading, find_heading
from core.sheets.xlsx_reading import NOT_A_WORKBOOK, WIDEST_SHEET, Marks, Workbook, marks, open_workbook, xlsx_rows

LARGEST_FILE: Final = 25 * 2**20  # bytes
MOST_ROWS: Final = 50_000
HEAD_ROWS: Final = 60
MOST_HEAD_ROWS: Final = 5_000
SAMPLE_ROWS: Final = 50

RawRows = Iterator[tuple[int, list[Cell]]]

_OLE: Final = b"\xd0\xcf\x11\xe0"
_STARTS: Final = (
    (b"%PDF", "This is a PDF, not a spreadsheet. Send the .xlsx or .csv file that it was printed from."),
    (b"\x89PNG", "This is a picture, not a spreadsheet. Send a .xlsx or .csv file."),
    (b"\xff\xd8\xff", "This is a picture, not a spreadsheet. Send a .xlsx or .csv file."),
    (b"GIF8", "This is a picture, not a spreadsheet. Send a .xlsx or .csv file."),
    (b"{\\rtf", "This is a text document, not a spreadsheet. Copy its table into a spreadsheet and send that."),
    (b"\x1f\x8b", "This is a packed file. Unpack it and send the spreadsheet inside."),
)
_MARKUP: Final = (b"<html", b"<!doctype", b"<table", b"<?xml", b"<workbook")


def read_sheet(
    *, data: bytes | Path, filename: str, worksheet: str = "", is_heading: Callable[[str], bool] | None = None
) -> Sheet:
    """Read a .csv or .xlsx file, told apart by what it holds and not by its name.

    Raises SheetRefusedError, also later while ``rows`` is walked (too many rows, damage further down).
    ``worksheet`` picks a sheet of a workbook; without it the first that holds a table is taken.
    ``is_heading`` says whether a text is a known column heading.
    """
    content = _content(data)
    name = PurePath(filename.replace("\\", "/")).name
    if content.startswith(b"PK"):
        return _read_workbook(open_workbook(content), worksheet=worksheet, is_heading=is_heading)
    _refuse_foreign(content)
    text, encoding = decode(content)
    delimiter = sniff_delimiter(text)
    rows = csv_rows(text, delimiter=delimiter)
    return _sheet(
        rows,
        name=PurePath(name).stem,
        seen=Marks(last_line=text.count("\n") + 1),
        is_heading=is_heading,
        encoding=encoding,
        delimiter=delimiter,
    )


def _content(data: bytes | Path) -> bytes:
    size = len(data) if isinstance(data, bytes) else data.stat().st_size
    if size > LARGEST_FILE:
        message = (
            f"The file is larger than {LARGEST_FILE // 2**20} MB. Split it into several files and send them one by one."
        )
        raise SheetRefusedError(message)
    content = data if isinstance(data, bytes) else data.read_bytes()
    if not content.strip(b"\x00 \t\r\n"):
        message = "The file is empty."
        raise SheetRefusedError(message)
    return content


def _refuse_foreign(content: bytes) -> None:
    for start, reason in _STARTS:
        if content.startswith(start):
            raise SheetRefusedError(reason)
    if content.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in content:
            message = "The workbook is protected by a password. Save a copy without the password and send that."
            raise SheetRefusedError(message)
        message = "This is an old workbook (.xls). Open it, save it as .xlsx or .csv, and send that."
        raise SheetRefusedError(message)
    head = content.removeprefix(b"\xef\xbb\xbf").lstrip()[:100].lower()
    if head.startswith(_MARKUP):
        message = (
            "This is a web page or markup, whatever its name says. Open it, save it as .xlsx or .csv, and send that."
        )
        raise SheetRefusedError(message)
    if content[:512].count(0) and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        sample = content[:512]
        if sample[0::2].count(0) and sample[1::2].count(0):
            raise SheetRefusedError(NOT_A_WORKBOOK)


def _read_workbook(book: Workbook, *, worksheet: str, is_heading: Callable[[str], bool] | None) -> Sheet:
    try:
        name = worksheet or _first_table(book)
        if name not in book.names:
            message = f"The workbook has no worksheet named “{name}”. It has: {', '.join(book.names)}."
            raise SheetRefusedError(message)
        seen = marks(book, name)
        others = tuple(other for other in book.names if other != name)
        rows = _closing(xlsx_rows(book, name, seen=seen), book)
        return _sheet(rows, name=name, seen=seen, is_heading=is_heading, others=others)
    except BaseException:
        book.close()
        raise


def _closing(rows: RawRows, book: Workbook) -> RawRows:
    try:
        yield from rows
    finally:
        book.close()


def _first_table(book: Workbook) -> str:
    """Return the first worksheet with two rows of two cells, or the first with anything at all."""
    holding = ""
    for name in book.names:
        filled = [
            sum(map(is_filled, cells))
            for _, cells in islice(
                xlsx_rows(book, name, seen=replace(marks(book, name), has_formulas=False)), HEAD_ROWS
            )
        ]
        if sum(1 for count in filled if count > 1) > 1:
            return name
        if any(filled):
            holding = holding or name
    if not holding:
        message = "The workbook is empty: no worksheet holds a row."
        raise SheetRefusedError(message)
    return holding


def _sheet(  # all of it is what a sheet is made of
    rows: RawRows,
    *,
    name: str,
    seen: Marks,
    is_heading: Callable[[str], bool] | None,
    others: tuple[str, ...] = (),
    encoding: str = "",
    delimiter: str = "",
) -> Sheet:
    head = _head(rows)
    heading = find_heading(head, merged=seen.merged, is_heading=is_heading)
    body = ((number, cells) for number, cells in chain(head, rows) if number > heading.last_row)
    table = _table_rows(body, heading=heading, merged=seen.merged)
    sample = tuple(islice(table, SAMPLE_ROWS))
    width = max([_used(heading.names), *(len(row.cells) for row in sample)])
    names = tuple((heading.names + ("",) * width)[:width])
    if not sample:
        message = f"“{name}” holds no rows below its header."
        raise SheetRefusedError(message)
    return Sheet(
        name=name,
        header_row_number=heading.last_row,
        header=names,
        sample=sample,
        rows=chain(sample, table),
        other_names=others,
        encoding=encoding,
        delimiter=delimiter,
        last_line=seen.last_line,
    )


def _head(rows: RawRows) -> list[tuple[int, list[Cell]]]:
    """Take rows until enough of them are filled to know a header; blank rows in front count little."""
    head: list[tuple[int, list[Cell]]] = []
    filled = 0
    for row in rows:
        head.append(row)
        filled += any(map(is_filled, row[1]))
        if filled == HEAD_ROWS or len(head) == MOST_HEAD_ROWS:
            break
    return head


def _used(names: Sequence[str]) -> int:
    return max((index + 1 for index, name in enumerate(names) if name), default=0)


def _table_rows(rows: RawRows, *, heading: Heading, merged: Sequence[Area]) -> Iterator[SheetRow]:
    """Yield the filled rows; leave out repeated headers and headings merged across the table."""
    across = {top for left, top, right, bottom in merged if top == bottom and right - left + 1 > len(heading.names) / 2}
    carried = _carried_down(merged, heading.last_row)
    held: dict[int, Cell] = {}
    count = 0
    for number, raw in rows:
        cells = trimmed(raw)
        if not cells or (number in across and sum(map(is_filled, cells)) == 1):
            continue
        if tuple(cells) == heading.names[: len(cells)] and len(cells) > 1:
            continue
        for column, first in carried.get(number, ()):
            cells.extend([""] * (column - len(cells)))
            if first:
                held[column] = cells[column - 1]
            else:
                cells[column - 1] = held.get(column, "")
        count += 1
        if count > MOST_ROWS:
            message = f"The sheet holds more than {MOST_ROWS:,} rows. Split it and send the parts one by one."
            raise SheetRefusedError(message)
        yield SheetRow(number, tuple(trimmed(cells[:WIDEST_SHEET])))


def _carried_down(merged: Sequence[Area], last_header_row: int) -> dict[int, list[tuple[int, bool]]]:
    """Return row number to (column, is the first row) for areas of one column merged over several rows."""
    result: dict[int, list[tuple[int, bool]]] = {}
    for left, top, right, bottom in merged:
        if left == right and bottom > top > last_header_row:
            for number in range(top, min(bottom, top + MOST_ROWS) + 1):
                result.setdefault(number, []).append((left, number == top))
    return result
