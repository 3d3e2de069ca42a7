"""The words above columns."""

from __future__ import annotations

import pytest

from inventory.columns import IN_LISTS
from inventory.rules.intake.headings import BY_HEADING, is_heading, normal_heading, own_columns


def test_every_column_has_headings_and_every_one_left_out_a_reason():
    assert set(BY_HEADING.values()) == set(IN_LISTS)
    assert all(column.stays_out.endswith(".") for column in IN_LISTS.values() if column.stays_out)


@pytest.mark.parametrize(
    ("text", "normal"),
    [
        ("Serial #", "serial number"),
        ("SERIAL NO.", "serial number"),
        ("S/N", "s n"),
        ("Cost $", "cost dollars"),
        ("Fed. %", "fed percent"),
        ("  Rm\n#", "rm number"),
        ("Numéro", "numero"),
        ("#", "number"),
    ],
)
def test_headings_compare_without_case_points_and_signs(text, normal):
    assert normal_heading(text) == normal


def test_our_own_columns_are_the_last_of_their_name():
    assert own_columns(("Problem", "Row", "Problem", "Row mark")) == {1, 2, 3}
    assert own_columns(("Kind", "Problem", "Row")) == frozenset()


def test_headings_are_told_from_values():
    assert is_heading("Inst.")
    assert is_heading("Problem")
    assert not is_heading("Trumpet")
