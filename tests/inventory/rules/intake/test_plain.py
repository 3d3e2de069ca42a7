"""Cells through JSON and back."""

from __future__ import annotations

import json
from datetime import date

from core.sheets.cells import CellTrouble, SheetRow
from inventory.rules.intake.plain import cells_from, plain_cells


def test_cells_come_back_as_they_were():
    cells = ("Tpt", "", date(2015, 8, 5), CellTrouble("a formula without a value"), "“é\u202e")
    assert cells_from(json.loads(json.dumps(plain_cells(SheetRow(3, cells))))) == cells
