"""The grade after this one, and the school year that a day is in."""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import date
from typing import Final

LAST: Final = 12
# Before the first grade, with the codes of the Common Education Data Standards, as rosters have them.
EARLY: Final = {"PK": "K", "TK": "K", "K": "1", "KG": "1"}
_NUMBER: Final = re.compile(r"0*(\d{1,2})(?:st|nd|rd|th)?", re.IGNORECASE)


def grade_number(grade: str) -> int | None:
    """Return the grade as a number, 0 and below before the first; None for what is no grade of school."""
    found = _NUMBER.fullmatch(grade.strip())
    if found and 1 <= int(found[1]) <= LAST:
        return int(found[1])
    return {"K": 0, "KG": 0, "TK": -1, "PK": -1}.get(grade.strip().upper())


def next_grade(grade: str) -> str:
    """Return the grade of the next school year; "" after the last one, and for what is no grade of school."""
    number = grade_number(grade)
    if number is None or number >= LAST:
        return ""
    return EARLY[grade.strip().upper()] if number < 1 else str(number + 1)


def in_order(grades: Collection[str]) -> list[str]:
    """Return grades from the lowest up; what is no grade of school comes last."""

    def place(grade: str) -> tuple[bool, int, str]:
        number = grade_number(grade)
        return number is None, number or 0, grade

    return sorted(grades, key=place)


def school_year_of(day: date, *, ends: tuple[int, int]) -> int:
    """Return the calendar year in which the school year of this day ends; the next one begins the day after it."""
    return day.year + (day > date(day.year, *ends))


def last_day_of_school(day: date, *, ends: tuple[int, int]) -> date:
    """Return the last day on which a school year ended."""
    return date(school_year_of(day, ends=ends) - 1, *ends)
