"""Settings that say what they are for."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.notes import setting_notes

ROOT = Path(__file__).resolve().parents[3]


def test_every_setting_has_words():
    notes = setting_notes()
    assert notes.keys() == catalog().settings.keys()
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
    assert setting_notes()[code].said == said


def test_a_figure_is_told_with_where_it_comes_from():
    note = setting_notes()["bench_rate_amount"]
    assert note.told == f"$30 an hour, shop default. {note.note}"


def test_no_figure_is_listed_that_no_rule_goes_by():
    code = "".join(
        path.read_text() for app in ("inventory", "repairs", "loans", "desk") for path in (ROOT / app).rglob("*.py")
    )
    assert [name for name in setting_notes() if f'"{name}"' not in code] == []
