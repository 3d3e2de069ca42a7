"""Cells in trouble, and the words for nothing."""

from __future__ import annotations

from datetime import date

import pytest

from core.sheets import CellTrouble
from inventory.rules.intake.parse.reading import UnreadableError, cell_text, is_nothing, is_sign_for_nothing


def test_a_cell_is_one_line_of_text():
    assert cell_text("two\n lines") == "two lines"
    assert cell_text(date(2019, 8, 1)) == "2019-08-01"
    with pytest.raises(UnreadableError, match=r"holds the error #REF!; type the value itself"):
        cell_text(CellTrouble("the error #REF!"))


def test_missing_is_no_serial_but_says_something_about_a_condition():
    assert is_nothing(" Missing ")
    assert not is_sign_for_nothing("Missing")
    assert is_sign_for_nothing("N/A")
