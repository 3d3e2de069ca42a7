"""What is kept of a roster, read back, and what stands in the way of a new one."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from loans.models import ClassPeriod
from loans.rules.roster import ClassRow, PersonGuardian, ZipSource, check_roster, places_of
from loans.selectors.roster import (
    class_differs,
    codes_of,
    people_of,
    place_of,
    school_changes,
    strange_courses,
    strange_orgs,
    taken_courses,
)
from loans.services import choose_courses
from tests.factories import NOW, TODAY, make_school, make_student
from tests.loans.makers import make_loan
from tests.loans.services.test_roster import bring
from tests.rosters import files_of, school_rows, user, zip_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def north():
    return make_school(code="NHS")


def opened(rows=None):
    source = ZipSource(zip_of(files_of(rows or school_rows())))
    return {"source": source, "checked": check_roster(source)}


def test_people_with_guardians_classes_and_what_is_out(north):
    bring(north)
    make_loan(student=make_student(school=north, name="Zoe Typed"), school=north)
    ana, ben, zoe = people_of(north)
    assert ana.guardians == (PersonGuardian("Luz Rivera", "luz@home.example", "555-0101", sourced_id="g-1"),)
    assert (ana.classes, ana.is_out, ana.has_left, ana.is_off) == (frozenset({"band-2"}), False, False, False)
    assert ben.guardians[0].name == "Ada Okafor"
    assert (zoe.sourced_id, zoe.is_out, zoe.classes) == ("", True, frozenset())


def test_reading_people_takes_the_same_queries_for_any_number(north):
    bring(north)
    with CaptureQueriesContext(connection) as few:
        people_of(north)
    rows = school_rows()
    rows["users"] += [user(f"s-{n}", "student", "New", f"Student{n}") for n in range(10, 30)]
    rows["enrollments"] += [
        rows["enrollments"][1] | {"sourcedId": f"e-{n}", "userSourcedId": f"s-{n}"} for n in range(10, 30)
    ]
    bring(north, rows)
    with CaptureQueriesContext(connection) as many:
        assert len(people_of(north)) == 22
    assert len(many) == len(few)


def test_what_would_change_is_counted_by_file_and_nothing_is_written(north):
    found = school_changes(school=north, **opened(), courses=["band"], orgs=None, today=TODAY)
    assert found.sums == (("users.csv", 4, 0, 0), ("classes.csv", 1, 0, 0), ("enrollments.csv", 2, 0, 0))
    assert found.summary == "2 new, 0 changed, 0 as before, 0 left, 0 left with an instrument out."
    assert not ClassPeriod.objects.exists()


def test_the_same_name_is_a_problem_until_somebody_answers(north):
    ana = make_student(school=north, name="Ana Rivera")
    problems_found = school_changes(school=north, **opened(), courses=["band"], orgs=None, today=TODAY)
    assert [(one.file, one.row, one.column) for one in problems_found.problems] == [("users.csv", 3, "familyName")]
    answered = school_changes(
        school=north, **opened(), courses=["band"], orgs=None, today=TODAY, answers={"s-1": ana.pk}
    )
    assert answered.problems == ()


def test_schools_are_found_by_identifier_or_else_by_sourced_id():
    rows = school_rows()
    rows["orgs"].append({"sourcedId": "shs", "name": "South", "type": "school"})
    roster = opened(rows)
    assert codes_of(places_of(**roster)) == {"NHS": {"school-1"}, "SHS": {"shs"}}
    assert strange_orgs(**roster, courses=["band"], codes=["NHS"]) == ()
    assert [one.row for one in strange_orgs(**roster, courses=["band"], codes=["SHS"])] == [2]


def test_a_course_that_is_not_there_any_more(north):
    choose_courses(school=north, courses={"band": "Band", "choir": "Choir"}, actor=None, at=NOW)
    assert taken_courses(north) == {"band": "Band", "choir": "Choir"}
    assert ["choir" in one.reason for one in strange_courses(**opened(), courses=taken_courses(north))] == [True]


@pytest.mark.parametrize(("periods", "place"), [("", 1), ("3", 3), ("4,5", 4), ("A", 1), ("123", 1), ("²", 1)])
def test_the_place_in_the_day_is_the_first_period_that_is_a_number(periods, place):
    row = ClassRow("c", "Band", "", periods)
    assert place_of(row) == place
    assert not class_differs(ClassPeriod(name="Band", place=place), row)
