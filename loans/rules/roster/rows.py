"""The records of one CSV file, one at a time: UTF-8, RFC 4180, and no line breaks within a cell."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from typing import IO, Final, NamedTuple, cast

from core.translation import gettext as _
from loans.rules.roster.problems import UnreadableError

LONGEST_LINE: Final = 2**16  # characters
MOST_ROWS: Final = 1_000_000
_INVISIBLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_NOT_UTF8 = re.compile(r"[\ud800-\udfff]")
_ODD = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")


class Record(NamedTuple):
    """``number`` counts from 1, the header; ``faults`` is what is wrong with the record as a whole."""

    number: int
    cells: list[str]
    faults: tuple[str, ...] = ()
    is_whole: bool = True  # not where a quotation mark may have swallowed other records


class _Lines:
    """Yields line by line without the ends, and remembers what was wrong since it was last asked."""

    def __init__(self, stream: IO[bytes]) -> None:
        # Bytes that are no UTF-8 become signs that no text has, so they are found without decoding each line by itself.
        self._text = io.TextIOWrapper(cast("io.BufferedReader", stream), "utf-8-sig", "surrogateescape", newline="\n")
        self.faults: list[str] = []

    def __iter__(self) -> Iterator[str]:
        while line := self._text.readline(LONGEST_LINE + 1):
            if len(line) > LONGEST_LINE:
                raise UnreadableError(
                    _(
                        "A line is longer than %(most)s characters; reading stopped there.",
                        most=f"{LONGEST_LINE:,}",
                    )
                )
            line = line.removesuffix("\n").removesuffix("\r")
            yield self._mended(line) if _ODD.search(line) else line

    def _mended(self, line: str) -> str:
        if _NOT_UTF8.search(line):
            self.faults.append(_("The row is not UTF-8."))
        if "\r" in line:
            self.faults.append(_("There is a carriage return within the row."))
        if _INVISIBLE.search(line):
            self.faults.append(_("There is a control character in the row."))
        return _ODD.sub(" ", line)


def records(stream: IO[bytes]) -> Iterator[Record]:
    """Yield every record, also faulty ones. UnreadableError where it cannot go on."""
    lines = _Lines(stream)
    reader = csv.reader(iter(lines), strict=True)
    number = 0
    while True:
        begun, is_whole, cells = reader.line_num, True, list[str]()
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            lines.faults.append(_("A quotation mark is out of place or never closed."))
            is_whole = False
        else:
            if reader.line_num - begun > 1:
                lines.faults.append(_("There is a line break within a cell, or a quotation mark that is never closed."))
                is_whole = False
        number += 1
        if number > MOST_ROWS:
            raise UnreadableError(
                _("The file has more than %(most)s rows; reading stopped there.", most=f"{MOST_ROWS:,}")
            )
        if lines.faults:
            yield Record(number, cells, tuple(lines.faults), is_whole)
            lines.faults.clear()
        else:
            yield Record(number, cells)
