"""CSV files of unknown encoding and separator, as rows."""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from typing import Final

from django.utils.translation import gettext as _

from core.cells import Cell, loose_text
from core.exceptions import SheetRefusedError
from core.sheets.xlsx_reading import LAST_ROW

DELIMITERS: Final = (",", ";", "\t", "|")
LONGEST_CELL: Final = 32_767  # the most a spreadsheet program holds in one cell
SNIFFED_ROWS: Final = 60
WIDEST_FILE: Final = 1_000  # columns; what stands beyond WIDEST_SHEET of them is left out, as of a workbook
LONGEST_LINE: Final = 2**20  # characters
_LINES_AT_ONCE: Final = 2**16  # bytes
_LINE = re.compile(r"[^\r\n]*(?:\r\n?|\n|\Z)")
_NUL_SHARE_OF_UTF16: Final = 0.3

_BOMS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


def decode(data: bytes) -> str:
    """Return the text, whatever its encoding.

    A byte-order mark decides; then UTF-8 if it decodes; otherwise line by line, so that a file pasted together from two
    programs keeps its accents in both halves.
    """
    known = next((encoding for mark, encoding in _BOMS if data.startswith(mark)), "") or _utf16_without_mark(data)
    try:
        if known:
            return data.decode(known)
    except UnicodeDecodeError as error:
        raise SheetRefusedError(
            _("The file's text is damaged: it ends in the middle of a character. Save it again as CSV UTF-8.")
        ) from error
    if b"\x00" in data:
        raise SheetRefusedError(_("This is not a spreadsheet. Send a .csv or .xlsx file."))
    try:
        return data.decode()
    except UnicodeDecodeError:
        return _decode_by_lines(data)


def _utf16_without_mark(data: bytes) -> str:
    head = data[:2000]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if len(head) < 4 or bool(even) == bool(odd):  # two characters are not enough to tell
        return ""
    if max(even, odd) <= len(head) / 2 * _NUL_SHARE_OF_UTF16:
        return ""
    return "utf-16-be" if even else "utf-16-le"


def _decode_by_lines(data: bytes) -> str:
    if data.count(b"\n") > LAST_ROW:
        raise SheetRefusedError(_too_long())
    source, text = io.BytesIO(data), list[str]()
    while lines := source.readlines(_LINES_AT_ONCE):
        text.append("".join(map(_decode_line, lines)))  # in between, one string for many lines: each has a cost
    return "".join(text)


def _decode_line(line: bytes) -> str:
    for encoding in ("utf-8", "cp1252"):
        with contextlib.suppress(UnicodeDecodeError):
            return line.decode(encoding)
    return line.decode("latin-1")


def sniff_delimiter(text: str) -> str:
    """Return the separator that splits the first rows most evenly into the most columns."""
    first_line = text[:40].splitlines()[0] if text else ""
    if first_line.lower().startswith("sep=") and len(first_line) == len("sep=") + 1:
        return first_line[-1]
    best, best_score = ",", 0.0
    for delimiter in DELIMITERS:
        widths: Counter[int] = Counter()
        with contextlib.suppress(csv.Error):
            rows = csv.reader(_lines(text[:200_000]), delimiter=delimiter)
            widths.update(len(row) for row in islice(rows, SNIFFED_ROWS) if any(row))
        count, width = max(((count, width) for width, count in widths.items() if width > 1), default=(0, 0))
        score = count / widths.total() + min(width, 40) / 100 if count else 0.0
        if score > best_score:
            best, best_score = delimiter, score
    return best


def csv_rows(text: str, *, delimiter: str) -> Iterator[tuple[int, list[Cell]]]:
    """Yield (row number, cells) for every record, including blank ones; numbers are those of a spreadsheet program."""
    reader = csv.reader(_lines(text), delimiter=delimiter)
    number = 0
    try:
        for number, record in enumerate(reader, start=1):
            if number == 1 and len(record) == 2 and record[0].lower() == "sep=":  # split by its own separator
                continue
            if len(record) > WIDEST_FILE:
                raise SheetRefusedError(_too_wide(number))
            if number > LAST_ROW:
                raise SheetRefusedError(_too_long())
            if any(len(cell) > LONGEST_CELL for cell in record):
                raise SheetRefusedError(_open_quote(number))
            yield number, [loose_text(cell) for cell in record]
    except csv.Error as error:
        raise SheetRefusedError(_open_quote(number + 1)) from error


def _lines(text: str) -> Iterator[str]:
    """Yield the lines one by one, with their ends: a buffer of the whole text would take four bytes a character."""
    for number, found in enumerate(_LINE.finditer(text), start=1):
        if found.end() - found.start() > LONGEST_LINE:
            raise SheetRefusedError(_too_wide(number))
        if line := found[0]:
            yield line


def _too_long() -> str:
    return _("The file has more than %(most)s lines. Split it and send the parts one by one.") % {
        "most": f"{LAST_ROW:,}"
    }


def _too_wide(number: int) -> str:
    return _(
        "Row %(row)d has more than %(most)s columns. Save the list from its spreadsheet again as .csv, one line for each "
        "instrument, and send that."
    ) % {"row": number, "most": f"{WIDEST_FILE:,}"}


def _open_quote(number: int) -> str:
    return _(
        "Row %(row)d has a cell longer than %(longest)s characters. A quotation mark was probably opened there "
        "and never closed. Close or remove it and send the file again."
    ) % {"row": number, "longest": f"{LONGEST_CELL:,}"}
