"""Cells in trouble, and the words for nothing."""

from __future__ import annotations

from datetime import date

import pytest

from core.sheets import CellTrouble
from inventory.rules.intake.parse.reading import (
    Reading,
    UnreadableError,
    cell_text,
    is_nothing,
    is_sign_for_nothing,
    reads_cells,
    without_doubt,
)


def test_a_cell_is_one_line_of_text():
    assert cell_text("two\n lines") == "two lines"
    assert cell_text(date(2019, 8, 1)) == "2019-08-01"
    with pytest.raises(UnreadableError, match=r"holds the error #REF!; type the value itself"):
        cell_text(CellTrouble("the error #REF!"))


def test_missing_is_no_serial_but_says_something_about_a_condition():
    assert is_nothing(" Missing ")
    assert not is_sign_for_nothing("Missing")
    assert is_sign_for_nothing("N/A")


def test_a_date_is_read_as_text_except_where_it_cannot_be_meant():
    read = reads_cells(None)(Reading)
    strict = reads_cells(None, no_date="is a date, not a number")(Reading)
    assert read(date(2019, 8, 1)) == Reading("2019-08-01", "", False)
    assert strict("5") == Reading("5")
    with pytest.raises(UnreadableError, match="is a date, not a number"):
        strict(date(2019, 8, 1))


@pytest.mark.parametrize("text", ["2015 ?", "ca. 2015", "About 2015", "2015 est.", "2015 or so"])
def test_a_doubt_is_taken_off_and_noted(text):
    assert without_doubt(text) == ("2015", "marked as uncertain")
    assert without_doubt("2015") == ("2015", "")
