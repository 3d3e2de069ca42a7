"""Spreadsheets in and out: reads what people really send, writes what is safe to open."""

from core.cells import Cell, CellTrouble, SheetRow
from core.exceptions import SheetRefusedError
from core.sheets.reading import LARGEST_FILE, Sheet, read_sheet
from core.sheets.writing import OutValue, Share, save_xlsx, stream_csv, write_csv, write_xlsx
