"""Excel workbooks: checked before they are opened, then read row by row."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime
from itertools import islice
from typing import Any, Final, NamedTuple
from xml.etree import ElementTree as ET

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from openpyxl import load_workbook
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.utils.cell import range_boundaries
from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

from core.cells import FORMULA_WITHOUT_VALUE, Cell, CellTrouble, clean_text, number_text
from core.exceptions import SheetRefusedError

LARGEST_PART: Final = 150 * 2**20  # bytes of one worksheet when unpacked; 50,000 rows stay far below
LARGEST_SIDE_PART: Final = 40 * 2**20  # bytes of shared texts or styles, which are held in memory
WIDEST_SHEET: Final = 200  # columns
LONGEST_ROW: Final = 4 * 2**20  # bytes of one row as written; it is held in memory
LAST_ROW: Final = 1_048_576  # of any workbook
_BATCH: Final = 500  # rows
_CHUNK: Final = 2**18  # bytes
_OVERLAP: Final = 200

_END_OF_ROWS = re.compile(rb"</(?:\w+:)?sheetData")
_MAIN_PART = re.compile(r"xl/(workbook\d*\.xml)")
_LINE = re.compile(rb'row\s[^>]*?\br="([0-9]{1,7})"')
_MERGE = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z0-9:]+)"')
_DOCTYPE = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)

NOT_A_WORKBOOK: Final = gettext_lazy(
    "This is not a spreadsheet this page can read. Open it, save it as .xlsx or .csv, and send that."
)
DAMAGED: Final = gettext_lazy(
    "The workbook is damaged and cannot be read. Open it, save a fresh copy as .xlsx, and send that."
)
UNPACKS_TOO_LARGE: Final = gettext_lazy(
    "The workbook unpacks to far more than an inventory needs, so it was not opened. "
    "Copy the rows into a new workbook or save the sheet as .csv."
)


class Marks(NamedTuple):
    """What a scan of a worksheet's raw text finds."""

    merged: tuple[tuple[int, int, int, int], ...] = ()  # first column, first row, last column, last row
    last_line: int = 0  # highest row number given; 0 if none is


def open_workbook(data: bytes) -> Any:  # openpyxl's read-only workbook
    """Check and open a workbook, or raise SheetRefusedError."""
    source = io.BytesIO(data)
    try:
        with zipfile.ZipFile(source) as archive:
            _refuse_unsafe(archive)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and validations that do not matter here
            return load_workbook(source, read_only=True, data_only=True, keep_links=False)
    except _READING_ERRORS as error:
        raise SheetRefusedError(str(DAMAGED)) from error


def sheet_names(book: Any) -> list[str]:
    """Return the worksheets' names, visible ones first."""
    return [sheet.title for sheet in sorted(book.worksheets, key=lambda sheet: sheet.sheet_state != "visible")]


# What openpyxl and the standard library raise on files that are not proper workbooks.
_READING_ERRORS: Final = (
    zipfile.BadZipFile, zlib.error, ET.ParseError, LookupError, ValueError, TypeError, AttributeError, EOFError, OSError,
    NotImplementedError, OverflowError,
)  # fmt: skip


def _refuse_unsafe(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    names = {entry.filename for entry in entries}
    if any(entry.flag_bits & 0x1 for entry in entries):
        raise SheetRefusedError(_("The file is password-protected. Save a copy without the password and send that."))
    if not any(map(_MAIN_PART.fullmatch, names)):
        raise SheetRefusedError(_other_archive(names))
    parts = [entry for entry in entries if entry.filename.endswith((".xml", ".rels"))]
    if sum(entry.file_size for entry in parts) > 2 * LARGEST_PART or any(
        entry.file_size > (LARGEST_PART if entry.filename.startswith("xl/worksheets/") else LARGEST_SIDE_PART)
        for entry in parts
    ):
        raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
    for entry in parts:
        with archive.open(entry) as part:
            if _DOCTYPE.search(part.read(4096)):
                raise SheetRefusedError(str(NOT_A_WORKBOOK))


def _other_archive(names: set[str]) -> str:
    if "xl/workbook.bin" in names:
        return _("This is a binary workbook (.xlsb). Open it, save it as .xlsx, and send that.")
    if "content.xml" in names:
        return _("This is an OpenDocument file. Open it, save it as .xlsx or .csv, and send that.")
    return str(NOT_A_WORKBOOK)


def marks(book: Any, name: str) -> Marks:
    """Scan the worksheet's raw text before it is parsed, for what the parser does not report or could not handle."""
    in_rows, merged, tail = True, set[str](), b""
    since_row = last_line = 0
    try:
        with book[name]._get_source() as part:  # openpyxl has no public way
            while chunk := part.read(_CHUNK):
                text = tail + chunk
                merged |= {found.decode("ascii") for found in _MERGE.findall(text)}
                in_rows = in_rows and _END_OF_ROWS.search(text) is None
                last = max(chunk.rfind(b"<row"), chunk.rfind(b":row"))
                since_row = len(chunk) - last if last >= 0 else since_row + len(chunk)
                if in_rows and since_row > LONGEST_ROW:
                    raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
                tail = text[-_OVERLAP:]
                last_line = _last_line(text) or last_line  # rows come in their order
        return Marks(tuple(sorted(map(_bounds, merged))), min(last_line, LAST_ROW))
    except _READING_ERRORS as error:
        raise SheetRefusedError(str(DAMAGED)) from error


def _last_line(text: bytes) -> int:
    """Return the number of the last row in a chunk, or 0 if it has none or is cut off."""
    found = _LINE.match(text, 1 + max(text.rfind(b"<row "), text.rfind(b":row ")))
    return int(found[1]) if found else 0


def _bounds(area: str) -> tuple[int, int, int, int]:
    left, top, right, bottom = range_boundaries(area)
    return left or 1, top or 1, right or WIDEST_SHEET, bottom or 1


class _Parser(WorkSheetParser):
    """Tells a formula without a value from an empty cell."""

    def parse_cell(self, element: Any) -> dict[str, Any]:
        cell = super().parse_cell(element)
        if cell["value"] is None and element.find(FORMULA_TAG) is not None:
            cell["value"] = FORMULA_WITHOUT_VALUE
        return cell


def xlsx_rows(book: Any, name: str) -> Iterator[tuple[int, list[Cell]]]:
    """Yield (row number, cells) for every row written; SheetRefusedError if the workbook is damaged."""
    sheet = book[name]
    try:
        with sheet._get_source() as part:
            formats = {"date_formats": book._date_formats, "timedelta_formats": book._timedelta_formats}
            parser = _Parser(part, sheet._shared_strings, data_only=True, epoch=book.epoch, **formats)
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
    except _READING_ERRORS as error:
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
