"""Problem rows out, put right, and in again."""

from __future__ import annotations

import pytest

from core.sheets import read_sheet, write_csv, write_xlsx
from inventory.rules.intake.fields import is_heading
from inventory.rules.intake.judge import KnownFleet, RowState
from inventory.rules.intake.problem_sheet import ProblemSheet, problem_sheet
from tests.inventory.rules.intake.lists import judged, judged_file, make_rows
from tests.inventory.rules.intake.test_judge import fleet_after

HEADER = ("Kind", "Make", "Date", "Notes")
ROWS = make_rows(
    ("Flute", "Maker B", "8/1/2019"),
    ("Flute", "Maker B", "13/32/2019", "=cmd()"),
    ("Flute", "Maker B", "8/3/2019"),
)


def written(sheet: ProblemSheet, form: str) -> bytes:
    if form == "csv":
        return write_csv(header=sheet.header, rows=sheet.rows)
    return write_xlsx(title="Problems", header=sheet.header, rows=sheet.rows)


def test_problem_rows_carry_their_columns_their_row_and_why():
    sheet = problem_sheet(header=HEADER, rows=ROWS, judgements=judged(ROWS, *HEADER))
    assert sheet.header == (*HEADER, "Row", "Problem", "Row mark")
    (row,) = sheet.rows
    assert row[:4] == ("Flute", "Maker B", "13/32/2019", "=cmd()")
    assert row[4:6] == (3, "Date: “13/32/2019” is not a date that exists.")


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_problem_row_put_right_comes_in_once_although_others_like_it_are_here(form):
    first = judged(ROWS, *HEADER)
    known = fleet_after(first)
    sheet = problem_sheet(header=HEADER, rows=ROWS, judgements=first)
    fixed = ProblemSheet(sheet.header, tuple((*row[:2], "8/2/2019", *row[3:]) for row in sheet.rows))
    (found,) = judged_file(written(fixed, form), known=known)
    assert found.state is RowState.NEW
    assert found.values.notes == "=cmd()"
    known = fleet_after([found], known=known)
    (again,) = judged_file(written(fixed, form), known=known)
    assert again.state is RowState.ALREADY_HERE
    whole = [*ROWS[:1], *make_rows(("Flute", "Maker B", "8/2/2019"), first=3), *ROWS[2:]]
    assert {judgement.state for judgement in judged(whole, *HEADER, known=known)} == {RowState.ALREADY_HERE}


def test_a_row_that_comes_back_still_wrong_keeps_its_first_mark_and_no_columns_double():
    sheet = problem_sheet(header=HEADER, rows=ROWS, judgements=judged(ROWS, *HEADER))
    back = read_sheet(data=written(sheet, "csv"), filename="a.csv", is_heading=is_heading)
    rows = list(back.rows)
    again = problem_sheet(header=back.header, rows=rows, judgements=judged(rows, *back.header))
    assert again.header == sheet.header
    assert again.rows[0][-1] == sheet.rows[0][-1]


def test_a_file_without_problems_gives_an_empty_sheet():
    rows = make_rows(("Flute",))
    assert problem_sheet(header=("Kind",), rows=rows, judgements=judged(rows, "Kind", known=KnownFleet())).rows == ()
