"""Excel workbooks: checked before they are opened, then read row by row."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Generator, Iterator
from datetime import date, datetime
from itertools import islice
from typing import Any, Final, NamedTuple
from xml.etree import ElementTree as ET

from defusedxml.ElementTree import iterparse
from django.utils.translation import gettext as _
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.reader.excel import ExcelReader
from openpyxl.utils.cell import range_boundaries
from openpyxl.worksheet._reader import DATA_TAG, FORMULA_TAG, ROW_TAG, WorkSheetParser

from core.cells import FORMULA_WITHOUT_VALUE, Cell, CellTrouble, clean_text, number_text
from core.exceptions import SheetRefusedError
from core.sheets.xlsx_package import DAMAGED, NOT_A_WORKBOOK, UNPACKS_TOO_LARGE, chunks, refuse_unsafe

WIDEST_SHEET: Final = 200  # columns
LONGEST_ROW: Final = 2**20  # bytes of one row as written; it is held in memory
LONGEST_TAIL: Final = 2 * 2**20  # bytes after the rows; held in memory too
MOST_MERGED: Final = 20_000  # areas of merged cells
MOST_SHEETS: Final = 100
LAST_ROW: Final = 1_048_576  # of any workbook
_BATCH: Final = 500  # rows
_OVERLAP: Final = 200

_END_OF_ROWS = re.compile(rb"</(?:\w+:)?sheetData")
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
_HIDING = re.compile(rb"<[!?]")  # what stands in a comment only looks like a row
_LINE = re.compile(rb'row\s[^>]*?\br="([0-9]{1,7})"')
_MERGE = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z0-9:]+)"')


class Marks(NamedTuple):
    """What a scan of a worksheet's raw text finds."""

    merged: tuple[tuple[int, int, int, int], ...] = ()  # first column, first row, last column, last row
    last_line: int = 0  # highest row number given; 0 if none is


class _Worksheet(NamedTuple):
    title: str
    is_hidden: bool
    path: str
    parent: Any  # openpyxl's workbook, where cells look up their formats


class Book(NamedTuple):
    """A workbook whose rows have not been read."""

    archive: zipfile.ZipFile
    sheets: dict[str, _Worksheet]
    texts: list[str]  # that its cells share
    formats: Any  # openpyxl's workbook


class _Reader(ExcelReader):
    """Reads what rows need and nothing else: openpyxl's own would parse a whole worksheet to learn its size."""

    sheets: tuple[_Worksheet, ...] = ()

    def read_worksheets(self) -> None:
        there = [(sheet, rel) for sheet, rel in self.parser.find_sheets() if "chartsheet" not in rel.Type]
        if len(there) > MOST_SHEETS or len({rel.target for _, rel in there}) < len(there):
            raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
        known = set(self.valid_files)
        self.sheets = tuple(
            _Worksheet(sheet.name, sheet.state != "visible", rel.target, self.wb)
            for sheet, rel in there
            if rel.target in known
        )

    def read_properties(self) -> None: ...

    def read_custom(self) -> None: ...

    def read_theme(self) -> None: ...


def open_workbook(data: bytes) -> Book:
    """Check and open a workbook, or raise SheetRefusedError."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            refuse_unsafe(archive)
        reader = _Reader(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and validations that do not matter here
            reader.read()
    except READING_ERRORS as error:
        raise SheetRefusedError(str(DAMAGED)) from error
    sheets = {sheet.title: sheet for sheet in reader.sheets}
    return Book(archive=reader.archive, sheets=sheets, texts=reader.shared_strings, formats=reader.wb)


def sheet_names(book: Book) -> list[str]:
    """Return the worksheets' names, visible ones first."""
    return [sheet.title for sheet in sorted(book.sheets.values(), key=lambda sheet: sheet.is_hidden)]


# What openpyxl and the standard library raise on files that are not proper workbooks.
READING_ERRORS: Final = (
    zipfile.BadZipFile, zlib.error, ET.ParseError, LookupError, ValueError, TypeError, AttributeError, EOFError, OSError,
    NotImplementedError, OverflowError,
)  # fmt: skip


def marks(book: Book, name: str) -> Marks:
    """Scan the worksheet's raw text before it is parsed, for what the parser does not report or could not handle."""
    merged, tail, is_in_rows = set[str](), b"", True
    since_row = after_rows = last_line = 0
    try:
        with book.archive.open(book.sheets[name].path) as part:
            for chunk in chunks(part):
                text = tail + chunk
                merged |= {found.decode("ascii") for found in _MERGE.findall(text)}
                if is_in_rows:
                    rows = [found.start() for found in _ROW.finditer(chunk)]
                    since_row = len(chunk) - rows[-1] if rows else since_row + len(chunk)
                    if (rows or last_line) and _HIDING.search(text, len(tail) + rows[0] if rows else 0):
                        raise SheetRefusedError(str(NOT_A_WORKBOOK))
                    is_in_rows = _END_OF_ROWS.search(text) is None
                else:
                    after_rows += len(chunk)
                if since_row > LONGEST_ROW or after_rows > LONGEST_TAIL or len(merged) > MOST_MERGED:
                    raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
                tail = text[-_OVERLAP:]
                last_line = _last_line(text) or last_line  # rows come in their order
        return Marks(tuple(sorted(map(_bounds, merged))), min(last_line, LAST_ROW))
    except READING_ERRORS as error:
        raise SheetRefusedError(str(DAMAGED)) from error


def _last_line(text: bytes) -> int:
    """Return the number of the last row in a chunk, or 0 if it has none or is cut off."""
    found = _LINE.match(text, 1 + max(text.rfind(b"<row "), text.rfind(b":row ")))
    return int(found[1]) if found else 0


def _bounds(area: str) -> tuple[int, int, int, int]:
    left, top, right, bottom = range_boundaries(area)
    return left or 1, top or 1, right or WIDEST_SHEET, bottom or 1


class _Parser(WorkSheetParser):
    """Reads rows alone, forgets each once it is read, and tells a formula without a value from an empty cell."""

    def parse(self) -> Generator[Any, None, None]:
        data: Any = None
        for event, element in iterparse(self.source, ("start", "end")):
            if event == "start":
                data = element if element.tag == DATA_TAG else data
            elif element.tag == ROW_TAG:
                yield self.parse_row(element)
                if data is not None:
                    data.clear()  # with whatever else stood before the row

    def parse_cell(self, element: Any) -> dict[str, Any]:
        cell = super().parse_cell(element)
        if cell["value"] is None and element.find(FORMULA_TAG) is not None:
            cell["value"] = FORMULA_WITHOUT_VALUE
        return cell


def xlsx_rows(book: Book, name: str) -> Iterator[tuple[int, list[Cell]]]:
    """Yield (row number, cells) for every row written; SheetRefusedError if the workbook is damaged."""
    sheet: Any = book.sheets[name]  # to a cell, all that a sheet of openpyxl's own would be
    look = book.formats
    try:
        with book.archive.open(sheet.path) as part:
            formats = {"date_formats": look._date_formats, "timedelta_formats": look._timedelta_formats}
            parser = _Parser(part, book.texts, data_only=True, epoch=look.epoch, **formats)
            rows, last = islice(parser.parse(), LAST_ROW), 0
            while batch := _quietly(rows):
                for number, found in batch:
                    if not last < number <= LAST_ROW:  # written twice or nowhere a row can be
                        continue
                    last = number
                    near = [cell for cell in found if cell["column"] <= WIDEST_SHEET]
                    cells: list[Cell] = [""] * max((cell["column"] for cell in near), default=0)
                    for cell in near:
                        cells[cell["column"] - 1] = _cell(ReadOnlyCell(sheet, **cell))
                    yield number, cells
    except READING_ERRORS as error:
        raise SheetRefusedError(str(DAMAGED)) from error


def _quietly(rows: Iterator[Any]) -> list[Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # dates out of range arrive as error cells
        return list(islice(rows, _BATCH))


def _cell(cell: Any) -> Cell:
    value = cell.value
    if value is None or isinstance(value, CellTrouble):
        return value or ""
    if isinstance(value, str):
        return CellTrouble(_("the error %(error)s") % {"error": value}) if cell.data_type == "e" else clean_text(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number_text(value, number_format=cell.number_format or "")
    if isinstance(value, date):
        return value.date() if isinstance(value, datetime) else value
    return clean_text(str(value))  # a time of day or a duration
