"""Every orderable column of every table is sorted both ways, over real rows."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from core.models import User
from core.tables import BaseTable
from inventory.models import Instrument
from inventory.selectors.register import for_list
from inventory.selectors.setup import schools_with_counts
from inventory.tables import InstrumentTable, PeopleTable, SchoolTable
from tests.factories import TODAY, make_instrument, make_room, make_user

ROOT = Path(__file__).resolve().parent.parent
for module in sorted(ROOT.glob("*/tables.py")):
    import_module(f"{module.parent.name}.tables")

MAKERS: dict[type[BaseTable], Callable[[], BaseTable]] = {
    InstrumentTable: lambda: InstrumentTable(for_list(Instrument.objects.all(), today=TODAY), today=TODAY),
    PeopleTable: lambda: PeopleTable(User.objects.all(), roles_of={}),
    SchoolTable: lambda: SchoolTable(schools_with_counts()),
}


def all_tables(base: type[Any] = BaseTable) -> list[type[Any]]:
    """Those of the rooms: a test may have tables of its own."""
    found = [table for child in base.__subclasses__() for table in (child, *all_tables(child))]
    return [table for table in found if table.__module__.endswith(".tables")]


def orderable(table: type[Any]) -> list[str]:
    return [name for name, column in table.base_columns.items() if column.orderable is not False]


CASES = [(table, name) for table in MAKERS for name in orderable(table)]


def test_every_table_is_tried():
    assert {table for table in all_tables() if table.__module__ == "inventory.tables"} <= set(MAKERS)


@pytest.mark.django_db
@pytest.mark.parametrize(("table", "name"), CASES, ids=[f"{table.__name__}-{name}" for table, name in CASES])
def test_every_column_that_can_be_sorted_sorts_both_ways(table, name):
    room = make_room()
    for kind in ("tuba", "flute", "trumpet"):
        make_instrument(kind_code=kind, school=room.school, room=room if kind == "flute" else None)
    make_user()
    make_user()
    up, down = MAKERS[table](), MAKERS[table]()
    up.order_by, down.order_by = name, f"-{name}"
    up_pks, down_pks = ([row.record.pk for row in one.rows] for one in (up, down))
    assert sorted(up_pks) == sorted(down_pks)
    assert len(up_pks) > 0
    for rows in (up, down):
        assert list(rows.as_values())
