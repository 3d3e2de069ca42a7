"""Everything is found by its own code."""

from __future__ import annotations

from dataclasses import replace
from weakref import ref

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


def test_a_catalog_may_be_the_key_of_a_cache():
    trade = catalog()
    copy = replace(trade)
    assert {trade: "ours", copy: "changed"}[trade] == "ours"
    assert ref(trade)() is trade
