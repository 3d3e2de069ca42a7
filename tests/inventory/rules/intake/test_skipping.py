"""Sums, counts below the list and headings inside it are no instruments, and nothing that is one is taken for them."""

from __future__ import annotations

import pytest

from core.sheets import CellTrouble
from inventory.rules.intake.judge import RowState
from tests.inventory.rules.intake.lists import judged, make_rows

HEADER = ("Tag", "Kind", "Make", "Serial", "Cost")
TRUMPET = ("A1", "Trumpet", "Plain", "100", "$900")


@pytest.mark.parametrize(
    "row",
    [
        ("Total", "", "", "", "$12,000.00"),
        ("", "TOTAL:", "", "", "110"),
        ("", "Grand total", "", "110", "12000"),
        ("", "Trumpets total 12", "", "", ""),
        ("", "Total trumpets: 12", "", "", ""),
        ("Sum", "", "", "", "#REF!"),
        ("", "Number of instruments: 4", "", "", ""),
        ("", "", "", "", "$12,000.00"),
        ("", "", "", "", CellTrouble("a formula without a value")),
        ("Tag", "Kind", "Make", "Serial", "Cost"),
        ("", "WOODWINDS", "", "", ""),
    ],
)
def test_it_is_skipped_with_a_reason_to_be_seen(row):
    first, second = judged(make_rows(TRUMPET, row), *HEADER)
    assert (first.state, second.state) == (RowState.NEW, RowState.SKIPPED)
    assert second.reason.startswith("It ")


def test_counts_below_a_sum_are_skipped_and_instruments_after_a_subtotal_are_not():
    rows = make_rows(
        TRUMPET, ("", "Total", "", "", "1"), ("", "Flute", "", "", "12"), ("A2", "Flute", "Plain", "7", "")
    )
    assert [row.state.value for row in judged(rows, *HEADER)] == ["new", "skipped", "skipped", "new"]


@pytest.mark.parametrize(
    "row",
    [
        ("", "Flute", "", "", "12"),  # no sum came before
        ("A2", "Trumpet", "Total Tone", "5", "80"),
        ("", "Flute", "Sum", "77", ""),
        ("", "Zither", "", "", ""),
        ("A9", "", "Plain", "110", "500"),
    ],
)
def test_what_may_be_an_instrument_is_not_skipped(row):
    assert judged(make_rows(TRUMPET, row), *HEADER)[1].state is not RowState.SKIPPED
