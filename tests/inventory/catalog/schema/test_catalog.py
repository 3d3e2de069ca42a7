"""Everything is found by its own code."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog


@pytest.mark.parametrize(
    "name",
    ["kinds", "roles", "faults", "methods", "ladders", "hazards", "consumables", "tools", "play_tests", "intervals"],
)
def test_each_entry_stands_under_its_code(name):
    entries = getattr(catalog(), name)
    assert entries
    assert [code for code, entry in entries.items() if entry.code != code] == []
