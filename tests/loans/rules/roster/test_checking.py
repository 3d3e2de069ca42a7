"""Good rosters pass; each fault is told with file, row, column and reason, and hides no other.

Source of what is a fault: "OneRoster: CSV Tables", version 1.1 (2017), and "OneRoster: CSV Binding", version 1.2.1 (2023).
"""

import io
import tracemalloc

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loans.rules.roster.checking import check_roster, checked_before
from loans.rules.roster.sources import ZipSource
from tests.rosters import HEADERS, as_delta, csv_of, enrollment, files_of, school_rows, zip_of

VERSIONS = ["1.1", "1.2"]


def check(files):
    return check_roster(ZipSource(zip_of(files)))


def places(files):
    return [(one.file, one.row, one.column) for one in check(files).problems]


def spoiled(name, old, new, *, version="1.1", rows=None):
    """A good roster with one text of one file replaced."""
    files = files_of(rows or school_rows(), version=version)
    data = files[f"{name}.csv"]
    assert old in data
    return files | {f"{name}.csv": data.replace(old, new, 1)}


@pytest.mark.parametrize("version", VERSIONS)
def test_a_good_roster_passes_and_its_rows_are_counted(version):
    checked = check(files_of(school_rows(), version=version))
    assert checked.problems == ()
    counts = {f"{name}.csv": len(rows) for name, rows in school_rows().items()}
    if version == "1.2":
        counts["roles.csv"] = counts["users.csv"]
    assert {name: count for name, count in checked.rows.items() if name != "manifest.csv"} == counts


@pytest.mark.parametrize("version", VERSIONS)
def test_a_file_of_changes_passes_and_may_point_to_rows_that_are_elsewhere(version):
    rows = as_delta({"enrollments": [enrollment("e-9", "band-2", "s-9")], "users": school_rows()["users"][:2]})
    assert places(files_of(rows, version=version, mode="delta")) == []


def test_a_file_of_changes_says_for_each_row_what_happened_and_when():
    rows = as_delta(school_rows())
    rows["users"][0] |= {"status": "", "dateLastModified": ""}
    assert places(files_of(rows, mode="delta")) == [("users.csv", 2, "status"), ("users.csv", 2, "dateLastModified")]


@pytest.mark.parametrize("version", VERSIONS)
def test_marks_line_ends_and_metadata_at_the_right_are_tolerated(version):
    files = files_of(school_rows(), version=version)
    for name in set(files) - {"manifest.csv"}:
        head, *rows = files[name].splitlines()
        lines = [head + b",metadata.district.bus,metadata.x", *(row + b",7," for row in rows)]
        files[name] = b"\xef\xbb\xbf" + b"\n".join(lines)
    assert places(files) == []


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (b"grades", b"grade", [(1, "grade"), (1, "grades")]),
        (b"familyName", b"FamilyName", [(1, "FamilyName")]),
        (b"givenName,familyName", b"familyName,givenName", [(1, "familyName")]),
        (b",password", b",password,ext_bus", [(1, "ext_bus")]),
        (b",password", b"", [(1, "password")]),
        (b"sms,", b"", [(1, "sms")]),
        (b"email", b"email,email", [(1, "email")]),
        (b"middleName", b"metadata.middle,middleName", [(1, "metadata.middle")]),
        (b"password", b"password,", [(1, "")]),
        (b"password", b"password,metadata.", [(1, "metadata.")]),
        (b"password", b"password,Metadata.x", [(1, "Metadata.x")]),
    ],
)
def test_columns_that_are_unlisted_missing_misspelt_or_misplaced(old, new, expected):
    header = HEADERS["users"].encode()
    files = files_of(school_rows())
    files["users.csv"] = files["users.csv"].replace(header, header.replace(old, new, 1))
    told = [(one.row, one.column) for one in check(files).problems if one.file == "users.csv" and one.row == 1]
    assert told == expected


@pytest.mark.parametrize(
    ("name", "old", "new", "row", "column"),
    [
        ("users", b"school-1,student,s-1", b"school-1,Student,s-1", 3, "role"),
        ("users", b"s-1,,,true", b"s-1,,,TRUE", 3, "enabledUser"),
        ("users", b"s-1,,,true", b"s-1,,Monday,true", 3, "dateLastModified"),
        ("users", b"s-1,,,true", b"s-1,Active,,true", 3, "status"),
        ("users", b"Ana,Rivera", b",Rivera", 3, "givenName"),
        ("users", b",09,", b",9,", 3, "grades"),
        ("users", b",true,school-1,teacher", b",true,school-9,teacher", 2, "orgSourcedIds"),
        ("users", b",g-1,09", b",g-9,09", 3, "agentSourcedIds"),
        ("users", b"t-1,,,", b"t 1,,,", 2, "sourcedId"),
        ("users", b"t-1,,,", b"x" * 256 + b",,,", 2, "sourcedId"),
        ("users", b"t-1,,,", b"s-1,,,", 3, "sourcedId"),
        ("users", b"Dana", b'"Da\r\nna"', 2, ""),
        ("users", b"Dana", b'"Da\rna"', 2, ""),
        ("users", b"Dana", b"D\xe9na", 2, ""),
        ("users", b",Dana", b",,Dana", 2, ""),
        ("users", b"Dana,", b"", 2, ""),
        ("orgs", b"school,", b"School,", 3, "type"),
        ("orgs", b"district-1\r\n", b"district-2\r\n", 3, "parentSourcedId"),
        ("academicSessions", b"2026-08-17,", b"08/17/2026,", 2, "startDate"),
        ("academicSessions", b"2027\r\n", b"26-27\r\n", 2, "schoolYear"),
        ("courses", b"band,,,year", b"band,,,spring", 2, "schoolYearSourcedId"),
        ("classes", b"algebra,,", b"geometry,,", 3, "courseSourcedId"),
        ("classes", b'"fall,year"', b'"fall,spring"', 3, "termSourcedIds"),
        ("classes", b"scheduled", b"scheduled ", 2, "classType"),
        ("enrollments", b"s-2", b"s-22", 4, "userSourcedId"),
        ("enrollments", b"band-2", b"band-3", 2, "classSourcedId"),
        ("enrollments", b"e-4,", b"e-3,", 6, "sourcedId"),
        ("enrollments", b"2026-08-17", b"Aug 17", 3, "beginDate"),
        ("enrollments", b",,true", b",,True", 2, "primary"),
    ],
)
def test_each_fault_is_told_at_its_place(name, old, new, row, column):
    if old == b",,true":
        old, new = b"teacher,true", b"teacher,True"
    files = spoiled(name, old, new)
    told = check(files).problems
    assert (f"{name}.csv", row, column) in [(one.file, one.row, one.column) for one in told]
    assert all(one.reason for one in told)


@pytest.mark.parametrize(
    ("name", "old", "new", "row", "column"),
    [
        ("roles", b"primary", b"Primary", 2, "roleType"),
        ("roles", b"teacher", b"administrator", 2, "role"),
        ("roles", b"school-1", b"school-7", 2, "orgSourcedId"),
        ("roles", b"t-1,primary", b"t-7,primary", 2, "userSourcedId"),
        ("users", b"s-1,,,true", b"s-1,,,", 3, "enabledUser"),
    ],
)
def test_the_newer_version_keeps_roles_in_a_file_of_their_own(name, old, new, row, column):
    if name == "users":
        old, new = b"s-1,,,true", b"s-1,,,yes"
    assert (f"{name}.csv", row, column) in places(spoiled(name, old, new, version="1.2"))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (HEADERS["courses"].encode(), "no rows"),
        (HEADERS["courses"].encode() + b"\r\n", "no rows"),
        (b"x" * 70_000, "longer"),
        ("sourcedId".encode("utf-16"), "UTF-8"),
    ],
)
def test_a_file_without_rows_or_unreadable_is_told_and_the_others_are_checked(data, words):
    files = spoiled("users", b"school-1,student,s-1", b"school-1,Student,s-1") | {"courses.csv": data}
    problems = check(files).problems
    assert words in " ".join(one.reason for one in problems if one.file == "courses.csv")
    assert ("users.csv", 3, "role") in [(one.file, one.row, one.column) for one in problems]


def test_a_file_that_is_not_there_is_told_once_for_each_column_that_points_into_it():
    rows = school_rows()
    del rows["academicSessions"]
    assert places(files_of(rows)) == [("courses.csv", 2, "schoolYearSourcedId"), ("classes.csv", 2, "termSourcedIds")]


def test_one_that_is_announced_and_missing_is_told_by_the_manifest_alone():
    files = files_of(school_rows())
    del files["users.csv"]
    assert [one[0] for one in places(files)] == ["manifest.csv"]


def test_a_row_that_could_not_be_read_does_not_bring_false_problems():
    files = spoiled("users", b"t-1,", b'"t-1,')
    assert {one[0] for one in places(files)} == {"users.csv"}


def test_a_blank_line_is_a_row_with_the_wrong_number_of_cells():
    assert places(spoiled("orgs", b"\r\nschool-1", b"\r\n\r\nschool-1")) == [("orgs.csv", 3, "")]


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_whatever_a_file_holds_there_is_no_error_and_every_problem_has_a_file_and_a_reason(data):
    files = files_of(school_rows(), version=data.draw(st.sampled_from(VERSIONS)))
    name = data.draw(st.sampled_from(sorted(files)))
    content = bytearray(files[name])
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(st.integers(0, len(content)))
        content[place : place + data.draw(st.integers(0, 40))] = data.draw(
            st.binary(max_size=20) | st.sampled_from([b'"', b",", b"\r\n", b"\xef\xbb\xbf", b"\x00", b"tobedeleted"])
        )
    for problem in check(files | {name: bytes(content)}).problems:
        assert problem.file
        assert problem.reason.endswith(".")
        assert problem.sentence.startswith(problem.file)


def test_memory_does_not_grow_with_the_cells():
    def peak(length):
        rows = [enrollment(f"e-{number}", "band-2", "s-1", role="x" * length) for number in range(2000)]
        files = files_of(school_rows()) | {"enrollments.csv": csv_of(HEADERS["enrollments"].split(","), rows)}
        source = ZipSource(io.BytesIO(zip_of(files).getvalue()))
        tracemalloc.start()
        try:
            check_roster(source)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    assert peak(1900) < peak(10) + 1_000_000  # 3.8 million characters more


def test_what_was_checked_before_is_opened_without_being_checked_again():
    files = files_of(school_rows(), version="1.2") | {"users.csv": b"not looked at"}
    opened = checked_before(ZipSource(zip_of(files)))
    assert (opened.standard.version, opened.problems, opened.modes["users"]) == ("1.2", (), "bulk")
