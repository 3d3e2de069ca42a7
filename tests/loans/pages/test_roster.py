from __future__ import annotations

import pytest

from inventory.models import School
from loans.pages.roster import SHOWN, change_groups, change_stats, course_choices, twin_lines
from loans.rules.roster import Changes, Coming, CourseRow, Person, Roster, StudentRow, Twin
from loans.selectors.roster import SchoolChanges


def course(sourced_id, title, students=1, code=""):
    return CourseRow(sourced_id, title, code, 1, students)


def test_chosen_courses_come_first_then_what_sounds_like_music():
    courses = [course("a", "Algebra"), course("b", "Wind Band", 0), course("c", "Jazz", code="J1"), course("d", "", 2)]
    assert course_choices(courses, taken=["d"]) == [
        ("d", "without a title · 2 students"),
        ("c", "Jazz · J1 · 1 student"),
        ("b", "Wind Band · 0 students"),
        ("a", "Algebra · 1 student"),
    ]


def person(pk, name="Rivera, Ana", grade="9"):
    return Person(pk, name, name, "", grade, "")


def test_what_would_change_in_sums_and_names():
    changes = Changes(
        new=[Coming(f"s-{n}", person(0, f"New {n:02}"), ()) for n in range(SHOWN + 3)],
        changed=[Coming("s-9", person(7), ("name", "sort_name", "guardians"), is_back=True)],
        left=[8],
        flagged=[7],
        same=4,
    )
    people = {7: person(7, "Okafor, Ben"), 8: person(8, "Stone, Cal")}
    told = SchoolChanges(School(), Roster(is_bulk=True), changes, people)
    assert [stat["sum"] for stat in change_stats(told)] == [53, 1, 4, 1, 1]
    flagged, new, changed, left = change_groups(told)
    assert (flagged["lines"][0]["name"], flagged["more"]) == ("Okafor, Ben", 0)
    assert (len(new["lines"]), new["more"], new["lines"][0]) == (SHOWN, 3, {"name": "New 00", "note": "grade 9"})
    assert changed["lines"][0]["note"] == "name, guardians, back again"
    assert left["lines"][0]["url"].endswith("/8/")
    assert change_groups(SchoolChanges(School(), Roster(is_bulk=True), Changes(), {})) == []


@pytest.mark.parametrize(
    ("grade", "words"),
    [("7", "Okafor, Ben"), ("", "Okafor, Ben"), ("8", "Okafor, Ben, here in grade 7, in the file in grade 8")],
)
def test_a_question_about_the_same_name_shows_the_name_and_the_grades(grade, words):
    twin = Twin("s-2", 4, 7)
    row = StudentRow("s-2", 4, "Ben Okafor", "Okafor, Ben", "", grade)
    roster, people = Roster(is_bulk=True, students={"s-2": row}), {7: person(7, "Okafor, Ben", grade="7")}
    assert twin_lines(SchoolChanges(School(), roster, Changes(twins=[twin]), people)) == [(twin, words)]
