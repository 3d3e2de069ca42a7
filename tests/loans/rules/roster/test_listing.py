"""Lists as offices and directors keep them; headings are common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cells import CellTrouble, SheetRow
from loans.rules.roster.listing import FIELD_WORDS, guess_fields, is_heading, read_list


@pytest.mark.parametrize(
    ("header", "fields"),
    [
        (["Last Name", "First Name", "Gr", "ID #"], ["family", "given", "grade", "number"]),
        (["Student", "Grade", "Instrument", "Parent Email"], ["name", "grade", "", "guardian_email"]),
        (["STUDENT NAME", "Grade Level", "Guardian's name", "Guardian Phone"], ["name", "grade", "guardian", "guardian_phone"]),
        (["Name", "Grade", "Parent 1 Name", "Parent 1 Email", "Parent 2 Name", "Parent 2 Email"],
         ["name", "grade", "guardian", "guardian_email", "guardian_2", "guardian_2_email"]),
        (["Name", "Name", "Locker"], ["name", "", ""]),
    ],
)  # fmt: skip
def test_headings_are_recognized(header, fields):
    assert list(guess_fields(header).values()) == fields
    assert is_heading(header[0])


def read(*rows, fields):
    return read_list([SheetRow(number, cells) for number, cells in enumerate(rows, start=2)], dict(enumerate(fields)))


@pytest.mark.parametrize(
    ("cells", "fields", "names"),
    [
        (("Rivera", "Ana", "9"), ("family", "given", "grade"), ("Ana Rivera", "Rivera, Ana")),
        (("Rivera, Ana", "", "9"), ("name", "", "grade"), ("Ana Rivera", "Rivera, Ana")),
        (("Ana  Rivera", "", "9"), ("name", "", "grade"), ("Ana Rivera", "Rivera, Ana")),
        (("Cher", "", "9"), ("name", "", "grade"), ("Cher", "Cher")),
    ],
)
def test_names_are_read_whichever_way_they_are_written(cells, fields, names):
    roster, problems = read(cells, fields=fields)
    (student,) = roster.students.values()
    assert (student.name, student.sort_name) == names
    assert problems == ()
    assert not roster.is_bulk


@pytest.mark.parametrize(
    ("text", "grade"),
    [("9", "9"), ("09", "9"), ("9th", "9"), ("Grade 9", "9"), ("gr. 7", "7"), ("12th grade", "12"), ("K", "K")],
)
def test_grades_are_read_as_people_write_them(text, grade):
    roster, _ = read(("Ana Rivera", text), fields=("name", "grade"))
    assert next(iter(roster.students.values())).grade == grade


def test_guardians_come_with_the_student_first_one_first():
    roster, _ = read(
        ("Ana Rivera", "9", "Luz Rivera", "luz@home.example", "", "555-0101"),
        fields=("name", "grade", "guardian", "guardian_email", "guardian_2", "guardian_2_phone"),
    )
    (student,) = roster.students.values()
    assert [(one.name, one.email, one.phone) for one in map(roster.guardians.get, student.guardians)] == [
        ("Luz Rivera", "luz@home.example", ""),
        ("", "", "555-0101"),
    ]


def test_rows_without_name_or_grade_and_cells_that_cannot_be_read_are_problems():
    _, problems = read(("", "9"), ("Ana Rivera", ""), (CellTrouble("an error value"), "9"), fields=("name", "grade"))
    assert [(one.row, one.column) for one in problems] == [
        (2, "Student's name"),
        (3, "Grade"),
        (4, "Student's name"),
        (4, "Student's name"),
    ]


@given(st.lists(st.lists(st.text(max_size=12), max_size=4), max_size=5), st.permutations([*FIELD_WORDS, "", ""]))
def test_whatever_a_list_holds_each_row_is_a_student_or_a_problem(table, fields):
    rows = [SheetRow(number, tuple(cells)) for number, cells in enumerate(table, start=2)]
    roster, problems = read_list(rows, dict(enumerate(fields)))
    assert {one.row for one in problems} | {one.row for one in roster.students.values()} == {row.number for row in rows}
