"""What a list asks before it can be confirmed, and its problem rows with a field for each cell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from core.cells import cell_words, from_json
from inventory.catalog.load import catalog
from inventory.columns import IN_LISTS, LOOSE_KINDS
from inventory.models import ImportBatch, ImportRow
from inventory.rules.intake.mapping import ColumnMapping
from inventory.rules.intake.nearest import nearest_kinds
from inventory.rules.intake.parse.dates import DateOrder

FIELDS_AT_ONCE = 800  # cells to be put right on one page: a form is sent with no more than a thousand fields


def open_kinds(batch: ImportBatch) -> dict[str, list[tuple[str, str]]]:
    """Each loose word of the list to the kinds it may mean, the likeliest first, then all others."""
    names = {kind.code: kind.name for kind in catalog().kinds.values()}
    choices: dict[str, list[tuple[str, str]]] = {}
    for word in sorted(batch.asked.get("kinds", {})):
        likely = [code for code in LOOSE_KINDS.get(word, ()) if code in names]
        choices[word] = [(code, names[code]) for code in (*likely, *(code for code in names if code not in likely))]
    return choices


def open_orders(batch: ImportBatch) -> dict[str, tuple[str, str]]:
    """Each column whose dates could be either order to its heading and such a date."""
    settled = batch.answers.get("orders", {})
    return {
        index: (_heading(batch, index), found["text"])
        for index, found in batch.asked.get("orders", {}).items()
        if found["order"] == DateOrder.ASK and index not in settled
    }


def orders_settled(batch: ImportBatch) -> list[dict[str, Any]]:
    """How the dates of each column were read, and by which row."""
    answers = batch.answers.get("orders", {})
    settled = []
    for index, found in batch.asked.get("orders", {}).items():
        order = answers.get(index) or found["order"]
        if order in {DateOrder.MONTH_DAY, DateOrder.DAY_MONTH}:
            settled.append(
                {
                    "heading": _heading(batch, index),
                    "is_month_first": order == DateOrder.MONTH_DAY,
                    "row": 0 if index in answers else found["row"],
                    "text": found["text"],
                }
            )
    return settled


def _heading(batch: ImportBatch, index: str) -> str:
    return str(batch.header[int(index)]) if int(index) < len(batch.header) else ""


def mending_of(
    rows: Iterable[ImportRow], *, mapping: ColumnMapping, kind_words: Mapping[str, str]
) -> dict[int, dict[str, Any]]:
    """Return, by row number, the fields of each problem row: those to blame, and the rest of the row."""
    columns = [column for column in mapping.columns if column.field and not IN_LISTS[column.field].stays_out]
    most = FIELDS_AT_ONCE // max(1, len(columns))
    found = {}
    for row in [row for row in rows if row.state == ImportRow.State.PROBLEM][:most]:
        cells = from_json(row.cells)
        blamed = {name for name, _why in row.remarks.get("problems", ())}
        fields = []
        for column in columns:
            text = cell_words(cells[column.index]) if column.index < len(cells) else ""
            is_kind = column.field == "kind"
            fields.append(
                {
                    "name": f"cell-{row.number}-{column.index}",
                    "label": column.header or IN_LISTS[str(column.field)].label,
                    "text": text,
                    "is_blamed": column.header in blamed,
                    "is_long": IN_LISTS[str(column.field)].reads == "note",
                    "nearest": nearest_kinds(text, kind_words) if is_kind and column.header in blamed else [],
                    "is_kind": is_kind,
                }
            )
        found[row.number] = {
            "blamed": [one for one in fields if one["is_blamed"]],
            "is_asked": row.remarks.get("is_asked", False),
            "rest": [one for one in fields if not one["is_blamed"]],
        }
    return found
