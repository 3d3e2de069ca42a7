"""Grades by the codes that OneRoster 1.2 lists from the Common Education Data Standards; years by the calendar."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.grades import in_order, last_day_of_school, next_grade, school_year_of


@pytest.mark.parametrize(
    ("grade", "after"),
    [("PK", "K"), ("TK", "K"), ("KG", "1"), ("k", "1"), ("06", "7"), ("8th", "9"), ("11", "12"), ("12", ""), ("13", ""),
     ("UG", ""), ("Other", ""), ("", "")],
)  # fmt: skip
def test_the_next_grade(grade, after):
    assert next_grade(grade) == after


def test_grades_come_from_the_lowest_up_and_what_is_none_last():
    assert in_order({"10", "9", "KG", "", "UG", "PK"}) == ["PK", "KG", "9", "10", "", "UG"]


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2090, 1, 1)), st.sampled_from([(5, 29), (6, 12), (12, 31)]))
def test_every_day_is_in_one_school_year_and_the_next_begins_the_day_after_the_last(day, ends):
    year, last = school_year_of(day, ends=ends), last_day_of_school(day, ends=ends)
    assert date(year - 1, *ends) < day <= date(year, *ends)
    assert school_year_of(last, ends=ends) == year - 1
    assert school_year_of(last + timedelta(days=1), ends=ends) == year
