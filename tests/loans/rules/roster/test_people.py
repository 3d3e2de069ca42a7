"""Only the people of chosen courses are read, whichever way the roster ties them together."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.roster.checking import check_roster
from loans.rules.roster.people import courses_of, orgs_of_classes, places_of, read_people, titles_of_courses
from loans.rules.roster.sources import ZipSource
from tests.rosters import as_delta, enrollment, files_of, school_rows, user, zip_of

TODAY = date(2026, 9, 1)
VERSIONS = ["1.1", "1.2"]


def opened(rows, **how):
    source = ZipSource(zip_of(files_of(rows, **how)))
    return source, check_roster(source)


def people(rows, *, courses=("band",), version="1.1", mode="bulk", **told):
    return read_people(*opened(rows, version=version, mode=mode), courses=courses, today=TODAY, **told)


@pytest.mark.parametrize("version", VERSIONS)
def test_students_of_the_course_and_their_guardians_and_nobody_else(version):
    roster = people(school_rows(), version=version)
    assert set(roster.students) == {"s-1", "s-2"}
    assert set(roster.guardians) == {"g-1", "g-2"}
    assert roster.students["s-1"].guardians == ["g-1"]  # named by the student
    assert roster.students["s-2"].guardians == ["g-2"]  # naming the student
    assert roster.is_bulk


def test_what_is_known_of_each():
    roster = people(school_rows())
    ana, luz = roster.students["s-1"], roster.guardians["g-1"]
    assert (ana.name, ana.sort_name, ana.number, ana.grade, ana.row) == ("Ana Rivera", "Rivera, Ana", "40017", "9", 3)
    assert (luz.name, luz.email, luz.phone) == ("Luz Rivera", "luz@home.example", "555-0101")
    assert roster.guardians["g-2"].phone == "555-0102"
    group = roster.classes["band-2"]
    assert (group.title, group.code, group.periods) == ("Concert Band, second period", "MU101-2", "2")


@pytest.mark.parametrize("version", VERSIONS)
def test_only_guardians_parents_and_relatives_count_as_such(version):
    rows = school_rows()
    rows["users"][1]["agentSourcedIds"] = "t-1,g-1,r-1,s-3"
    rows["users"].append(user("r-1", "relative", "Pia", "Rivera"))
    assert people(rows, version=version).students["s-1"].guardians == ["g-1", "r-1"]


def test_a_preferred_name_is_the_name():
    rows = school_rows()
    files = files_of(rows, version="1.2")
    files["users.csv"] = files["users.csv"].replace(b",09,,,,,,,\r\n", b",09,,,Annie,,,,\r\n")
    source = ZipSource(zip_of(files))
    found = read_people(source, check_roster(source), courses=["band"], today=TODAY)
    assert found.students["s-1"].name == "Annie Rivera"


def test_who_left_the_class_before_today_or_is_deleted_is_not_in_it():
    rows = school_rows()
    rows["enrollments"][1]["endDate"] = "2026-08-31"
    rows["enrollments"][2]["endDate"] = "2026-09-01"
    assert set(people(rows).students) == {"s-2"}
    rows = school_rows()
    rows["users"][2]["status"] = "tobedeleted"
    assert set(people(rows).students) == {"s-1"}


def test_only_classes_of_the_named_schools():
    rows = school_rows()
    assert people(rows, orgs={"school-2"}).students == {}
    assert set(people(rows, orgs={"school-1"}).students) == {"s-1", "s-2"}


def test_a_roster_that_lacks_a_file_says_nothing_of_who_has_left():
    rows = school_rows()
    del rows["enrollments"]
    assert not people(rows).is_bulk


def test_changes_name_classes_and_people_that_came_before():
    rows = as_delta(
        {
            "users": [
                user("s-2", "student", "Ben", "Okafor-Hill", grades="11"),
                user("s-9", "student", "New", "Student", agentSourcedIds="g-9"),
                user("s-8", "student", "Not", "Ours"),
                user("g-1", "guardian", "Luz", "Rivera", phone="555-0199"),
                user("g-9", "guardian", "Una", "Student"),
            ],
            "enrollments": [enrollment("e-9", "band-2", "s-9"), enrollment("e-8", "algebra-1", "s-8")],
        }
    )
    rows["users"].append(user("s-1", "student", "Ana", "Rivera") | {"status": "tobedeleted"})
    rows["enrollments"].append(enrollment("e-2", "band-2", "s-2") | {"status": "tobedeleted"})
    roster = people(rows, mode="delta", known_classes=["band-2"], known_people=["s-1", "s-2", "g-1"])
    assert not roster.is_bulk
    assert set(roster.students) == {"s-2", "s-9"}
    assert roster.students["s-9"].classes == ["band-2"]
    assert set(roster.guardians) == {"g-1", "g-9"}
    assert roster.gone == {"s-1"}
    assert roster.dropped == {("s-2", "band-2")}


def test_courses_are_listed_with_classes_and_students():
    rows = school_rows()
    rows["courses"].append({"sourcedId": "choir", "title": "A Choir", "orgSourcedId": "school-1"})
    found = courses_of(*opened(rows), today=TODAY)
    assert [(one.title, one.classes, one.students) for one in found] == [
        ("Algebra", 1, 2),
        ("Concert Band", 1, 2),
        ("A Choir", 0, 0),
    ]
    assert [one.sourced_id for one in courses_of(*opened(rows), today=TODAY, orgs={"school-2"})] == []
    assert set(titles_of_courses(*opened(rows)).values()) == {one.title for one in found}


def test_places_tell_schools_from_districts():
    found = places_of(*opened(school_rows()))
    assert [(one.identifier, one.is_school) for one in found.values()] == [("", False), ("NHS", True)]


@given(st.sets(st.sampled_from(["s-1", "s-2", "s-3"])), st.sets(st.sampled_from(["band", "algebra"])))
def test_nobody_is_read_who_is_in_no_chosen_course_nor_guardian_of_one(enrolled, courses):
    rows = school_rows()
    rows["enrollments"] = [enrollment("e-0", "algebra-1", "t-1", "teacher")]
    rows["enrollments"] += [enrollment(f"e-{one}", "band-2", one) for one in sorted(enrolled)]
    roster = people(rows, courses=courses)
    expected = enrolled if "band" in courses else set()
    assert set(roster.students) == expected
    assert set(roster.guardians) == {one.replace("s", "g") for one in expected}


def test_where_chosen_courses_are_taught_and_in_which_row_that_stands_first():
    assert orgs_of_classes(*opened(school_rows()), courses=["algebra"]) == {"school-1": 3}
    assert orgs_of_classes(*opened(school_rows()), courses=["choir"]) == {}
