"""Everything is found by its own code."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from weakref import ref

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Setting, Size

ROOT = Path(__file__).resolve().parents[4]


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


def test_the_trade_at_a_size_has_its_methods_at_that_size():
    trade = catalog()
    assert trade.sized(Size.LARGE).methods["soap_bath_brass"] == trade.methods["soap_bath_brass"].at(Size.LARGE)
    assert trade.sized(Size.LARGE) is trade.sized(Size.LARGE)
    assert trade.sized(Size.LARGE).ladders is trade.ladders


def test_every_setting_says_what_it_is_for():
    notes = catalog().setting_notes
    assert {code: one.value for code, one in notes.items()} == catalog().settings
    assert [code for code, one in notes.items() if not one.note.strip()] == []


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("repair_limit_needed_now", "65% of replacement value"),
        ("interest_rate", "3% a year"),
        ("approval_amount", "$150"),
        ("same_part_months", "24 months"),
        ("bench_rate_amount", "$30 an hour"),
        ("school_year_ends_month", "month 5"),
    ],
)
def test_a_value_is_said_as_people_say_it(code, said):
    assert catalog().setting_notes[code].in_words == said


def test_cents_are_said_when_there_are_any():
    assert Setting("x", Decimal("30.50"), "", unit="dollars an hour").in_words == "$30.50 an hour"


def test_a_figure_is_told_with_where_it_comes_from():
    note = catalog().setting_notes["bench_rate_amount"]
    assert note.described == f"$30 an hour, shop default. {note.note}"


def test_no_figure_is_listed_that_no_rule_goes_by():
    code = "".join(
        path.read_text() for app in ("inventory", "repairs", "loans", "desk") for path in (ROOT / app).rglob("*.py")
    )
    assert [name for name in catalog().setting_notes if f'"{name}"' not in code] == []
