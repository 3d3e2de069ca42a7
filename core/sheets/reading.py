"""Turns the bytes of an uploaded spreadsheet into a header and rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice
from pathlib import PurePath
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from core.cells import Cell, SheetRow, trimmed
from core.exceptions import SheetRefusedError
from core.sheets.csv_reading import csv_rows, decode, sniff_delimiter
from core.sheets.heading import Area, Heading, IsHeading, find_heading
from core.sheets.xlsx_package import NOT_A_WORKBOOK
from core.sheets.xlsx_reading import WIDEST_SHEET, Book, Marks, marks, open_workbook, sheet_names, xlsx_rows

LARGEST_FILE: Final = 25 * 2**20  # bytes
MOST_ROWS: Final = 50_000
HEAD_ROWS: Final = 60
MOST_HEAD_ROWS: Final = 5_000
SAMPLE_ROWS: Final = 50

RawRows = Iterator[tuple[int, list[Cell]]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of a file. ``rows`` can be iterated once, and may still raise SheetRefusedError."""

    name: str
    header_row_number: int  # the last line of the header; 0 if the table has none
    header: tuple[str, ...]
    sample: tuple[SheetRow, ...]  # the first rows, for guessing what the columns hold
    rows: Iterator[SheetRow]
    other_names: tuple[str, ...] = ()  # further worksheets of the file
    delimiter: str = ""  # of a text file
    last_line: int = 0  # row number of the file's last line, if known before reading; otherwise 0


_PICTURE: Final = gettext_lazy("This is a picture, not a spreadsheet. Send a .xlsx or .csv file.")
_OLE: Final = b"\xd0\xcf\x11\xe0"
_STARTS: Final = {
    b"%PDF": gettext_lazy("This is a PDF, not a spreadsheet. Send the .xlsx or .csv file it was made from."),
    b"\x89PNG": _PICTURE,
    b"\xff\xd8\xff": _PICTURE,
    b"GIF8": _PICTURE,
    b"{\\rtf": gettext_lazy(
        "This is a text document, not a spreadsheet. Copy its table into a spreadsheet and send that."
    ),
    b"\x1f\x8b": gettext_lazy("This is a compressed file. Unpack it and send the spreadsheet inside."),
}
_MARKUP: Final = (b"<html", b"<!doctype", b"<table", b"<?xml", b"<workbook")


def read_sheet(*, data: bytes, filename: str, worksheet: str = "", is_heading: IsHeading | None = None) -> Sheet:
    """Read a .csv or .xlsx file; its content decides which it is, not its name.

    Raises SheetRefusedError, also later while ``rows`` is iterated (too many rows, damage further down).
    ``worksheet`` picks a sheet of a workbook; by default, the first that holds a table.
    ``is_heading`` says whether a text is a known column heading.
    """
    if len(data) > LARGEST_FILE:
        raise SheetRefusedError(
            _("The file is larger than %(megabytes)d MB. Split it into several files and send them one by one.")
            % {"megabytes": LARGEST_FILE // 2**20}
        )
    if not data.strip(b"\x00 \t\r\n"):
        raise SheetRefusedError(_("The file is empty."))
    if data.startswith(b"PK"):
        return _read_workbook(open_workbook(data), worksheet=worksheet, is_heading=is_heading)
    _refuse_foreign(data)
    text = decode(data)
    delimiter = sniff_delimiter(text)
    rows, name = csv_rows(text, delimiter=delimiter), PurePath(filename.replace("\\", "/")).stem
    seen = Marks(last_line=text.count("\n") + 1)
    return replace(_sheet(rows, name=name, seen=seen, is_heading=is_heading), delimiter=delimiter)


def _refuse_foreign(content: bytes) -> None:
    for start, reason in _STARTS.items():
        if content.startswith(start):
            raise SheetRefusedError(str(reason))
    if content.startswith(_OLE):
        raise SheetRefusedError(
            _("The workbook is password-protected. Save a copy without the password and send that.")
            if "EncryptedPackage".encode("utf-16-le") in content
            else _("This is an old workbook (.xls). Open it, save it as .xlsx or .csv, and send that.")
        )
    if content.removeprefix(b"\xef\xbb\xbf").lstrip()[:100].lower().startswith(_MARKUP):
        raise SheetRefusedError(
            _("This is a web page or markup, whatever its name says. Open it, save it as .xlsx or .csv, and send that.")
        )
    start = content[:512]
    if start[0::2].count(0) and start[1::2].count(0) and not start.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise SheetRefusedError(str(NOT_A_WORKBOOK))


def _read_workbook(book: Book, *, worksheet: str, is_heading: IsHeading | None) -> Sheet:
    name, names = worksheet or _first_table(book), sheet_names(book)
    if name not in names:
        raise SheetRefusedError(
            _("The workbook has no worksheet named “%(name)s”. It has: %(names)s.")
            % {"name": name, "names": ", ".join(names)}
        )
    sheet = _sheet(xlsx_rows(book, name), name=name, seen=marks(book, name), is_heading=is_heading)
    return replace(sheet, other_names=tuple(other for other in names if other != name))


def _first_table(book: Book) -> str:
    """Return the first worksheet with two rows of two cells, or the first with anything at all."""
    holding = ""
    for name in sheet_names(book):
        marks(book, name)  # refuses what must not be parsed
        filled = [len(list(filter(None, cells))) for _, cells in islice(xlsx_rows(book, name), HEAD_ROWS)]
        if sum(count > 1 for count in filled) > 1:
            return name
        if any(filled):
            holding = holding or name
    if not holding:
        raise SheetRefusedError(_("The workbook is empty: none of its worksheets has any rows."))
    return holding


def _sheet(rows: RawRows, *, name: str, seen: Marks, is_heading: IsHeading | None) -> Sheet:
    head = _head(rows)
    heading = find_heading(head, merged=seen.merged, is_heading=is_heading)
    body = ((number, cells) for number, cells in chain(head, rows) if number > heading.last_row)
    table = _table_rows(body, heading=heading, merged=seen.merged)
    sample = tuple(islice(table, SAMPLE_ROWS))
    if not sample:
        raise SheetRefusedError(_("“%(name)s” has no rows below its header.") % {"name": name})
    width = max(len(trimmed(list(heading.names))), *(len(row.cells) for row in sample))
    return Sheet(
        name=name,
        header_row_number=heading.last_row,
        header=(heading.names + ("",) * width)[:width],
        sample=sample,
        rows=chain(sample, table),
        last_line=seen.last_line,
    )


def _head(rows: RawRows) -> list[tuple[int, list[Cell]]]:
    """Take rows until there are enough filled ones to find the header; leading blank rows do not count."""
    head: list[tuple[int, list[Cell]]] = []
    filled = 0
    for row in rows:
        head.append(row)
        filled += any(row[1])
        if filled == HEAD_ROWS or len(head) == MOST_HEAD_ROWS:
            break
    return head


def _table_rows(rows: RawRows, *, heading: Heading, merged: Sequence[Area]) -> Iterator[SheetRow]:
    """Yield the filled rows without repeated headers and headings merged across the table."""
    across = {top for left, top, right, bottom in merged if top == bottom and right - left + 1 > len(heading.names) / 2}
    downward = iter(sorted((area for area in merged if _is_downward(area, heading.last_row)), key=lambda area: area[1]))
    coming = next(downward, None)
    carried: dict[int, Area] = {}  # by column: the area that reaches this row
    held: dict[int, Cell] = {}
    count = 0
    for number, raw in rows:
        cells = trimmed(raw)
        is_title = number in across and len(list(filter(None, cells))) == 1
        if not cells or is_title or (len(cells) > 1 and tuple(cells) == heading.names[: len(cells)]):
            continue
        while coming is not None and coming[1] <= number:
            carried[coming[0]] = coming
            coming = next(downward, None)
        for column, (_left, top, _right, bottom) in carried.items():
            if number > bottom:
                continue
            cells.extend([""] * (column - len(cells)))
            if number == top:
                held[column] = cells[column - 1]
            else:
                cells[column - 1] = held.get(column, "")
        count += 1
        if count > MOST_ROWS:
            raise SheetRefusedError(
                _("The sheet has more than %(most)s rows. Split it and send the parts one by one.")
                % {"most": f"{MOST_ROWS:,}"}
            )
        yield SheetRow(number, tuple(trimmed(cells[:WIDEST_SHEET])))


def _is_downward(area: Area, last_header_row: int) -> bool:
    """Whether it is one column's value merged over several rows of the table."""
    left, top, right, bottom = area
    return left == right <= WIDEST_SHEET and bottom > top > last_header_row
