"""Dates of a loan: suggested return dates, and how long its signed paper is kept."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal

ENDS_MONTH, ENDS_DAY = "school_year_ends_month", "school_year_ends_day"
TERM_ENDS_MONTH, TERM_ENDS_DAY = "first_term_ends_month", "first_term_ends_day"
SHORTEST_YEAR_LOAN = timedelta(weeks=2)  # this close to the end of the year, the next year's end is meant
SATURDAY = 5
UNDO_FOR = timedelta(minutes=1)  # how long a slip at the door can be undone with one tap


def on_a_school_day(day: date) -> date:
    """Return the day itself, or the Friday before a weekend."""
    return day - timedelta(days=max(0, day.weekday() - SATURDAY + 1)) if day.weekday() >= SATURDAY else day


def school_year_ends(settings: Mapping[str, Decimal]) -> tuple[int, int]:
    """Return month and day of the end of the school year by the settings; a day past the month's end is its last."""
    return _day_of_year(settings, ENDS_MONTH, ENDS_DAY)


def first_term_ends(settings: Mapping[str, Decimal]) -> tuple[int, int]:
    """Return month and day of the end of the first term by the settings."""
    return _day_of_year(settings, TERM_ENDS_MONTH, TERM_ENDS_DAY)


def _day_of_year(settings: Mapping[str, Decimal], months: str, days: str) -> tuple[int, int]:
    month = min(max(int(settings[months]), 1), 12)
    return month, min(max(int(settings[days]), 1), monthrange(2025, month)[1])  # a year without a leap day


def end_of_school_year(*, today: date, ends: tuple[int, int]) -> date:
    """Return the last school day of the school year for a loan made today. ``ends`` is (month, day)."""
    last = on_a_school_day(date(today.year, *ends))
    return last if last - today >= SHORTEST_YEAR_LOAN else on_a_school_day(date(today.year + 1, *ends))


def school_year_words(year: int) -> str:
    """Return the school year that ends in ``year`` as it is written: 2026–27."""
    return f"{year - 1}–{year % 100:02d}"


def end_of_term(*, today: date, ends: tuple[int, int], first_term: tuple[int, int]) -> date:
    """Return the last school day of the term for a loan made today; the last term ends with the year."""
    return min(end_of_school_year(today=today, ends=one) for one in (ends, first_term))


def due_proposals(*, today: date, ends: tuple[int, int]) -> tuple[date, date, date]:
    """Return the dates to suggest, each a school day: the end of the school year, in two weeks, in six."""
    return (
        end_of_school_year(today=today, ends=ends),
        on_a_school_day(today + timedelta(weeks=2)),
        on_a_school_day(today + timedelta(weeks=6)),
    )


def keep_until(*, returned_on: date, years: int) -> date:
    """Return the first day on which a signed paper may be deleted; for a return on February 29, March 1.

    The number of years is the district's own choice; we know of no source for it.
    """
    try:
        return returned_on.replace(year=returned_on.year + years)
    except ValueError:
        return date(returned_on.year + years, 3, 1)
