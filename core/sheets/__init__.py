"""Spreadsheets in and out: read what people really send, write what is safe to open."""

from core.sheets.cells import Cell, CellTrouble, Sheet, SheetRow
from core.sheets.exceptions import SheetRefusedError
from core.sheets.reading import LARGEST_FILE, MOST_ROWS, read_sheet
from core.sheets.writing import OutValue, write_csv, write_xlsx

__all__ = [
    "LARGEST_FILE",
    "MOST_ROWS",
    "Cell",
    "CellTrouble",
    "OutValue",
    "Sheet",
    "SheetRefusedError",
    "SheetRow",
    "read_sheet",
    "write_csv",
    "write_xlsx",
]
