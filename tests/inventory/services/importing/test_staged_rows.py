"""Rows on the disk."""

from __future__ import annotations

import io

from core.sheets import SheetRow
from inventory.services.importing.staged_rows import rows_in, write_rows


def test_rows_are_read_back_from_any_place():
    rows = [SheetRow(number, (f"cell {number}", "line\nbreak")) for number in range(3, 10)]
    out = io.BytesIO()
    assert write_rows(rows=rows, out=out) == 7
    lines = out.getvalue().splitlines(keepends=True)
    assert list(rows_in(lines)) == rows
    assert list(rows_in(lines, start=2, stop=4)) == rows[2:4]


def test_half_a_character_does_not_stop_the_reading():
    out = io.BytesIO()
    write_rows(rows=[SheetRow(1, ("\ud800",))], out=out)
    assert len(list(rows_in(out.getvalue().splitlines()))) == 1
