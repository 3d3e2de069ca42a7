"""Whom a list means."""

from __future__ import annotations

import pytest

from loans.rules.matching import Known, match_person, tidy_name

SCHOOL = (
    Known(1, "Ana Rivera", "7"),
    Known(2, "José Cedar", "6"),
    Known(3, "Max Elm", "6"),
    Known(4, "Max Elm", "8"),
    Known(5, "Mary Ann O'Fir", "7"),
)


@pytest.mark.parametrize(
    ("name", "grade", "exact"),
    [
        ("Ana Rivera", "", (1,)),
        ("Rivera, Ana", "", (1,)),
        ("RIVERA ANA", "", (1,)),
        ("jose cedar", "6", (2,)),
        ("José  Cedar", "", (2,)),
        ("Max Elm", "", (3, 4)),
        ("Elm, Max", "8", (4,)),
        ("Max Elm", "5", (3, 4)),  # nobody of the grade: asked, not dropped
        ("OFir, Mary Ann", "", (5,)),
        ("Bo Nobody", "", ()),
    ],
)
def test_order_case_accents_and_points_do_not_count_and_the_grade_decides_between_namesakes(name, grade, exact):
    assert match_person(name, grade=grade, known=SCHOOL).exact == exact


@pytest.mark.parametrize(
    ("name", "is_asked"),
    [("Ana Rivera", False), ("Max Elm", True), ("Anna Rivera", True), ("A. Rivera", True), ("Bo Nobody", False)],
)
def test_namesakes_and_names_that_are_nearly_the_same_are_asked(name, is_asked):
    assert match_person(name, grade="", known=SCHOOL).is_asked is is_asked


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("RIVERA, ANA", "Ana Rivera"), ("o'fir, mary ann", "Mary Ann O'fir"), ("Ana de la Cruz", "Ana de la Cruz")],
)
def test_a_new_student_is_kept_with_the_given_name_first(typed, kept):
    assert tidy_name(typed) == kept
