"""Single cells."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cells import (
    FORMULA_WITHOUT_VALUE,
    CellTrouble,
    as_json,
    clean_text,
    from_json,
    loose_text,
    number_text,
    trimmed,
)


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        (12345.0, "General", "12345"),
        (1234.50, "#,##0.00", "1234.5"),
        (0.1 + 0.2, "", "0.3"),
        (123456789012345.0, "", "123456789012345"),
        (1e21, "", "1000000000000000000000"),
        (0.8, "0%", "80%"),
        (0.125, "0.0%", "12.5%"),
        (42, "00000", "00042"),
        (-0.0, "", "0"),
        (Decimal("3.10"), "", "3.1"),
    ],
)
def test_numbers_become_the_text_a_person_reads(value, number_format, text):
    assert number_text(value, number_format=number_format) == text


@given(st.integers(min_value=-(10**15) + 1, max_value=10**15 - 1))
def test_whole_numbers_survive_as_doubles(number):
    assert number_text(float(number)) == number_text(number) == str(number)


def test_invisible_characters_and_hard_blanks_go():
    assert clean_text("\ufeff Tr\u200bumpet\xa0\x00 ") == "Trumpet"


def test_the_text_marks_of_text_files_go_and_formulas_are_told():
    assert loose_text("'=1+1") == "=1+1"
    assert loose_text("'tis") == "'tis"
    assert loose_text('="00123"') == "00123"
    assert loose_text("=A1") is FORMULA_WITHOUT_VALUE


def test_a_cell_in_trouble_counts_as_filled():
    assert trimmed(["a", "", CellTrouble("x"), "", ""]) == ["a", "", CellTrouble("x")]


def test_cells_come_back_from_json_as_they_were():
    cells = ("Tpt", "", date(2015, 8, 5), date(19, 1, 1), CellTrouble("a formula without a value"), "“é\u202e")
    assert from_json(json.loads(json.dumps(as_json(cells)))) == cells
