"""Whether a column's dates are month first or day first, settled once for the column from what its rows show."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from core.cells import SheetRow
from inventory.rules.intake.parse.dates import EITHER, DateOrder, order_in


@dataclass(slots=True)
class ColumnOrder:
    """What a column's rows show. ``row`` and ``text`` are the first date that shows an order, or that shows none."""

    order: str = ""  # one of DateOrder; ASK where rows that could be either stay open, "" where there are none
    row: int = 0
    text: str = ""


def column_orders(rows: Iterable[SheetRow], *, columns: Collection[int]) -> dict[int, ColumnOrder]:
    """Return the order of each of the columns, by its index, that holds dates in figures.

    One row with a day above 12 settles it. Where some rows show one order and some the other, or none shows any while
    some could be either, it is to be asked.
    """
    shown: dict[int, dict[str, tuple[int, str]]] = {index: {} for index in columns}
    for row in rows:
        for index in columns:
            if index < len(row.cells) and (order := order_in(row.cells[index])):
                shown[index].setdefault(order, (row.number, str(row.cells[index])))
    return {index: _settled(found) for index, found in shown.items() if found}


def _settled(found: dict[str, tuple[int, str]]) -> ColumnOrder:
    orders = [order for order in DateOrder if order in found]
    if len(orders) == 1:
        return ColumnOrder(orders[0], *found[orders[0]])
    if EITHER in found:
        return ColumnOrder(DateOrder.ASK, *found[EITHER])
    return ColumnOrder()
