"""What cells may hold. Forms and words: "OneRoster: CSV Tables", version 1.1 (2017)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.roster.standard import STANDARDS, Column
from loans.rules.roster.values import fault, items, passes

COLUMNS = {f"{name}.{one.name}": one for name, columns in STANDARDS["1.1"].files.items() for one in columns}
COLUMNS |= {
    f"{name}.{one.name}": one for name, columns in STANDARDS["1.2"].files.items() for one in columns if name == "roles"
}


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("users.sourcedId", "a"),
        ("users.sourcedId", "Az09.-_/@"),
        ("users.sourcedId", "x" * 255),
        ("users.role", "relative"),
        ("users.enabledUser", "false"),
        ("users.orgSourcedIds", "school-1,school-2"),
        ("users.agentSourcedIds", ""),
        ("users.grades", "KG"),
        ("users.grades", "09,Other"),
        ("users.status", ""),
        ("users.status", "tobedeleted"),
        ("users.dateLastModified", "2026-02-28T23:59:59.000Z"),
        ("enrollments.primary", ""),
        ("enrollments.beginDate", "2028-02-29"),
        ("academicSessions.schoolYear", "2027"),
        ("orgs.type", "school"),
        ("classes.classType", "homeroom"),
    ],
)  # fmt: skip
def test_good_cells(column, text):
    assert fault(COLUMNS[column], text, is_delta=False) == ""


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        ("users.sourcedId", "", "blank"),
        ("users.sourcedId", "x" * 256, "255"),
        ("users.sourcedId", "a b", "sourcedId"),
        ("users.sourcedId", "é", "sourcedId"),
        ("users.sourcedId", "{a}", "sourcedId"),
        ("users.role", "Student", "“student”"),
        ("users.role", "pupil", "not one of"),
        ("users.role", " student", "“student”"),
        ("users.enabledUser", "TRUE", "“true”"),
        ("users.enabledUser", "1", "not one of"),
        ("users.orgSourcedIds", "school-1,", "empty place"),
        ("users.orgSourcedIds", "school-1, school-2", "sourcedId"),
        ("users.grades", "9", "not one of"),
        ("users.grades", "kg", "“KG”"),
        ("users.status", "Active", "“active”"),
        ("users.status", "inactive", "not one of"),
        ("users.dateLastModified", "2026-08-20", "not a date and time"),
        ("users.dateLastModified", "2026-08-20T25:00:00.000Z", "no date and time"),
        ("enrollments.beginDate", "08/17/2026", "not a date"),
        ("enrollments.beginDate", "2026-8-17", "not a date"),
        ("enrollments.beginDate", "20260817", "not a date"),
        ("enrollments.beginDate", "2026-02-30", "There is no date"),
        ("enrollments.beginDate", "２０２６-08-17", "not a date"),
        ("academicSessions.schoolYear", "2026-2027", "not a four-digit year"),
        ("roles.roleType", "Primary", "“primary”"),
        ("users.givenName", "", "blank"),
        ("users.givenName", "x" * 2001, "longer"),
    ],
)
def test_faulty_cells_say_what_is_wrong(column, text, words):
    assert words in fault(COLUMNS[column], text, is_delta=False)


def test_a_file_of_changes_must_say_what_happened_to_each_row_and_when():
    for name in ("users.status", "users.dateLastModified"):
        assert "delta" in fault(COLUMNS[name], "", is_delta=True)


def test_a_long_cell_is_not_repeated_whole():
    assert len(fault(COLUMNS["users.role"], "x" * 5000, is_delta=False)) < 300


@given(
    st.sampled_from(sorted(COLUMNS)),
    st.text(max_size=30) | st.sampled_from(["2026-08-17", "true", "a,b", "09", "KG,10"]),
)
def test_what_passes_quickly_is_not_faulty_when_looked_at_closely(name, text):
    column: Column = COLUMNS[name]
    for is_delta in (False, True):
        if passes(column, is_delta=is_delta)(text):
            assert fault(column, text, is_delta=is_delta) == ""


def test_a_list_is_taken_apart():
    assert list(items(COLUMNS["users.orgSourcedIds"], "a,b")) == ["a", "b"]
    assert list(items(COLUMNS["users.orgSourcedIds"], "")) == []
    assert list(items(COLUMNS["users.username"], "a,b")) == ["a,b"]
