"""The rows of a spreadsheet on the disk between sending it and publishing it: one row a line, as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import IO

from core.sheets import SheetRow
from inventory.rules.intake.plain import cells_from, plain_cells


def write_rows(*, rows: Iterable[SheetRow], out: IO[bytes]) -> int:
    """Write the rows and return how many there were."""
    count = 0
    for row in rows:
        line = json.dumps([row.number, plain_cells(row)], ensure_ascii=False, separators=(",", ":"))
        out.write(line.encode("utf-8", errors="replace") + b"\n")
        count += 1
    return count


def rows_in(source: Iterable[bytes], *, start: int = 0, stop: int | None = None) -> Iterator[SheetRow]:
    """Read rows back, from the place of the first wanted one to before the last."""
    for line in islice(source, start, stop):
        number, cells = json.loads(line)
        yield SheetRow(number, cells_from(cells))
