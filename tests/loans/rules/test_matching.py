"""Whom a list means."""

from __future__ import annotations

from difflib import SequenceMatcher

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.matching import LIKE, Known, is_adult, match_person, person_key, tidy_name

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


@given(st.lists(st.text("abe lé.,", max_size=9), max_size=8), st.text("abe lé.,", max_size=9))
def test_names_that_are_like_are_those_that_difflib_finds_one_by_one(names, name):
    """difflib compares each pair in full; KnownNames leaves most pairs out by their letters."""
    known = [Known(place, one, "") for place, one in enumerate(names)]
    key, match = person_key(name), match_person(name, grade="", known=known)
    others = [(one.pk, person_key(one.name)) for one in known if one.pk not in match.exact]
    assert match.exact == tuple(one.pk for one in known if sorted(person_key(one.name).split()) == sorted(key.split()))
    alike = {pk for pk, other in others if key and SequenceMatcher(a=key, b=other).ratio() >= LIKE}
    initials = {
        pk
        for pk, other in others
        if key and other and (key.split()[-1], key[0]) == (other.split()[-1], other[0])
        if "" in {key.split()[0][1:], other.split()[0][1:]}
    }
    assert set(match.like) == alike | initials
    assert list(match.like) == sorted(match.like)


@pytest.mark.parametrize(
    ("name", "grade", "means_adult"),
    [
        ("Mr. Max Elm", "", True),
        ("Elm, Mrs Ana", "", True),
        ("Coach Reed", "", True),
        ("Max Elm", "Staff", True),
        ("Max Elm", "7", False),
        ("Coach", "", False),  # a name by itself, as far as the list says
        ("Drake Elm", "", False),
        ("", "", False),
    ],
)
def test_a_title_or_a_word_in_place_of_the_grade_means_an_adult(name, grade, means_adult):
    """Common practice, no source."""
    assert is_adult(name, grade=grade) is means_adult
