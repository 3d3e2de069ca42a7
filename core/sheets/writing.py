"""Tables to download that are safe to open: no cell ever runs as a formula."""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import chain, islice
from typing import IO, Any, Final

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from core.cells import FORMULA_STARTS
from core.sheets.csv_reading import LONGEST_CELL

OutValue = str | int | float | Decimal | bool | date | None

WIDEST_COLUMN: Final = 48
ROWS_AT_ONCE: Final = 500
AMOUNT: Final = "#,##0.00"
PERCENT: Final = "0.0%"
_NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_NOT_IN_TITLE = re.compile(r"[\\/*?:\[\]]")


class Share(Decimal):
    """A part of a whole, between 0 and 1: a workbook shows it in percent."""


def is_formula_like(text: str) -> bool:
    """Whether a spreadsheet program might run this text."""
    start = unicodedata.normalize("NFKC", text.lstrip()[:1])  # a full-width equals sign is one to a program, too
    return bool(text) and (text[0] in FORMULA_STARTS or start in tuple("=+-@"))


def write_csv(*, header: Sequence[str], rows: Iterable[Sequence[OutValue]]) -> bytes:
    """Return UTF-8 with a byte-order mark; text that looks like a formula gets an apostrophe in front."""
    return b"".join(stream_csv(header=header, rows=rows))


def stream_csv(*, header: Sequence[str], rows: Iterable[Sequence[OutValue]]) -> Iterator[bytes]:
    """Yield what write_csv() returns, some rows at a time: a list of any length takes the memory of a short one."""
    waiting = chain([header], rows)
    mark = codecs.BOM_UTF8
    while some := list(islice(waiting, ROWS_AT_ONCE)):
        out = io.StringIO(newline="")
        csv.writer(out).writerows([_csv_value(cell) for cell in row] for row in some)
        yield mark + out.getvalue().encode(errors="replace")
        mark = b""


def _csv_value(value: OutValue) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, date):
        return value.isoformat()
    if not isinstance(value, str):
        return str(value)
    text = value.replace("\x00", "")
    return f"'{text}" if is_formula_like(text) else text


def write_xlsx(*, title: str, header: Sequence[str], rows: Iterable[Sequence[OutValue]]) -> bytes:
    """Return a workbook of one sheet; text stays text whatever it starts with, numbers and dates keep their type."""
    out = io.BytesIO()
    save_xlsx(out, title=title, header=header, rows=rows)
    return out.getvalue()


def save_xlsx(out: IO[bytes], *, title: str, header: Sequence[str], rows: Iterable[Sequence[OutValue]]) -> None:
    """Write what write_xlsx() returns to a file, row by row: only the file grows with the list."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet((_NOT_IN_TITLE.sub(" ", title).strip("' ") or "Sheet")[:31])
    sheet.freeze_panes = "A2"
    for position, name in enumerate(header, start=1):
        sheet.column_dimensions[get_column_letter(position)].width = min(max(len(name) + 4, 12), WIDEST_COLUMN)
    bold = Font(bold=True)
    head = [_text_cell(sheet, name) for name in header]
    for cell in head:
        cell.font = bold
    sheet.append(head)
    count = 1
    for count, row in enumerate(rows, start=2):  # noqa: B007  # the last row's number, read below
        sheet.append([_xlsx_value(sheet, value) for value in row])
    if header:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(header))}{count}"
    book.save(out)


def _xlsx_value(sheet: Any, value: OutValue) -> Any:  # openpyxl's cells and plain values
    if isinstance(value, Decimal):
        cell = WriteOnlyCell(sheet, value=value)  # type: ignore[arg-type]  # it takes them
        cell.number_format = PERCENT if isinstance(value, Share) else AMOUNT
        return cell
    return _text_cell(sheet, value) if isinstance(value, str) and value else value


def _text_cell(sheet: Any, text: str) -> Any:
    text = _NOT_IN_XML.sub("", text)
    if len(text) > LONGEST_CELL:
        text = f"{text[: LONGEST_CELL - 1]}…"
    cell = WriteOnlyCell(sheet, value=text)
    cell.data_type = "s"
    if is_formula_like(text):
        cell.quotePrefix = True  # the program keeps it as text even when somebody edits the cell
    return cell
