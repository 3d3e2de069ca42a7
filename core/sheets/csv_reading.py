"""Text files with separated values: bytes of unknown encoding and separator into rows."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from typing import Final

from core.sheets.cells import Cell, loose_text
from core.sheets.exceptions import SheetRefusedError

DELIMITERS: Final = (",", ";", "\t", "|")
LONGEST_CELL: Final = 32_767  # what a spreadsheet program can hold in one cell
SNIFFED_ROWS: Final = 60
_NUL_SHARE_OF_UTF16: Final = 0.3

_BOMS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


def decode(data: bytes) -> tuple[str, str]:
    """Return the text and the name of its encoding.

    A byte-order mark decides; then UTF-8 if the bytes allow it; then line by line, so that a file
    pasted together from two programs keeps its accents in both halves.
    """
    try:
        for mark, encoding in _BOMS:
            if data.startswith(mark):
                return data.decode(encoding), encoding
        wide = _utf16_without_mark(data)
        if wide:
            return data.decode(wide), wide
    except UnicodeDecodeError as error:
        message = "The file's text is damaged: it ends in the middle of a character. Save it again as CSV UTF-8."
        raise SheetRefusedError(message) from error
    if b"\x00" in data:
        message = "This is not a spreadsheet: it holds bytes that no text has. Send a .csv or .xlsx file."
        raise SheetRefusedError(message)
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return "".join(_decode_line(line) for line in data.splitlines(keepends=True)), "cp1252"


def _utf16_without_mark(data: bytes) -> str:
    head = data[:2000]
    if len(head) < 4:  # two characters say too little
        return ""
    enough = len(head) / 2 * _NUL_SHARE_OF_UTF16
    if head[1::2].count(0) > enough and not head[0::2].count(0):
        return "utf-16-le"
    if head[0::2].count(0) > enough and not head[1::2].count(0):
        return "utf-16-be"
    return ""


def _decode_line(line: bytes) -> str:
    for encoding in ("utf-8", "cp1252"):
        try:
            return line.decode(encoding)
        except UnicodeDecodeError:
            continue
    return line.decode("latin-1")


def sniff_delimiter(text: str) -> str:
    """Return the separator that cuts the first rows into the most columns most evenly."""
    first_line = text[:40].splitlines()[0] if text else ""
    if first_line.lower().startswith("sep=") and len(first_line) == len("sep=") + 1:
        return first_line[-1]
    best, best_score = ",", 0.0
    for delimiter in DELIMITERS:
        rows = csv.reader(io.StringIO(text[:200_000], newline=""), delimiter=delimiter)
        widths = Counter(len(row) for row in _until_error(islice(rows, SNIFFED_ROWS)) if any(row))
        wide = {width: count for width, count in widths.items() if width > 1}
        if not wide:
            continue
        width, count = max(wide.items(), key=lambda item: (item[1], item[0]))
        score = count / widths.total() + min(width, 40) / 100
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _until_error(rows: Iterator[list[str]]) -> Iterator[list[str]]:
    try:
        yield from rows
    except csv.Error:
        return


def csv_rows(text: str, *, delimiter: str) -> Iterator[tuple[int, list[Cell]]]:
    """Yield (row number, cells) for every record, blank ones too; numbers are those of a spreadsheet program."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    number = 0
    try:
        for number, record in enumerate(reader, start=1):
            if number == 1 and _is_separator_line(record):
                continue
            if any(len(cell) > LONGEST_CELL for cell in record):
                raise SheetRefusedError(_open_quote(number))
            yield number, [loose_text(cell) for cell in record]
    except csv.Error as error:
        raise SheetRefusedError(_open_quote(number + 1)) from error


def _is_separator_line(record: list[str]) -> bool:
    return record[:1] in (["sep="], ["SEP="]) and len(record) == 2  # cut by the separator itself


def _open_quote(number: int) -> str:
    return (
        f"Row {number} holds a cell longer than {LONGEST_CELL:,} characters. Most likely a quotation mark is opened "
        "there and never closed. Close or remove it and send the file again."
    )
