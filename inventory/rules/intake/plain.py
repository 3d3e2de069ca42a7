"""Cells of a spreadsheet as JSON keeps them between the dry run and the confirmation."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from core.sheets.cells import Cell, CellTrouble, SheetRow


def plain_cells(row: SheetRow) -> list[Any]:
    """The cells as JSON keeps them."""
    return [_plain(cell) for cell in row.cells]


def cells_from(plain: Iterable[Any]) -> tuple[Cell, ...]:
    """What ``plain_cells`` was made from."""
    return tuple(_cell(value) for value in plain)


def _plain(cell: Cell) -> Any:
    if isinstance(cell, CellTrouble):
        return {"trouble": cell.reason}
    return cell if isinstance(cell, str) else {"date": f"{cell:%Y-%m-%d}".zfill(10)}


def _cell(value: Any) -> Cell:
    if isinstance(value, str):
        return value
    return CellTrouble(value["trouble"]) if "trouble" in value else date.fromisoformat(value["date"])
