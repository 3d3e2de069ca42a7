from __future__ import annotations

import pytest

from loans.forms.roster import CoursesForm, ListColumnsForm, WhoIsWhoForm
from loans.rules.roster import Twin


def test_a_course_must_be_one_of_the_roster():
    choices = [("band", "Band"), ("choir", "Choir")]
    form = CoursesForm({"courses": ["band"]}, choices=choices, taken=["choir"])
    assert form.is_valid()
    assert CoursesForm(choices=choices, taken=["choir"])["courses"].initial == ["choir"]
    for data in ({}, {"courses": ["algebra"]}):
        assert "courses" in CoursesForm(data, choices=choices, taken=[]).errors


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        (["name", "grade"], ""),
        (["family", "grade"], ""),
        (["grade", ""], "name"),
        (["name", ""], "grade"),
        (["name", "name"], "Two columns"),
    ],
)
def test_a_list_needs_names_and_grades_each_in_one_column(chosen, words):
    data = {f"column-{index}": value for index, value in enumerate(chosen)}
    form = ListColumnsForm(data, header=["Student", ""], guessed={0: "name"})
    assert form.is_valid() is not bool(words)
    assert words in str(form.non_field_errors())
    assert form["column-1"].label == "Column 2, without a heading"
    if not words:
        assert form.chosen() == dict(enumerate(chosen))


def test_each_question_about_a_name_needs_an_answer():
    twins = [(Twin("s-1", 3, 7), "Rivera, Ana"), (Twin("s-2", 4, 8), "Okafor, Ben")]
    form = WhoIsWhoForm({"twin-s-1": "same", "twin-s-2": "other"}, twins=twins)
    assert form.is_valid()
    assert form.answers() == {"s-1": 7, "s-2": 0}
    assert set(WhoIsWhoForm({"twin-s-1": "same"}, twins=twins).errors) == {"twin-s-2"}
