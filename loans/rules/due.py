"""Return dates worth proposing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

# Schools of the United States mostly end between late May and mid June: a default from common practice, no source.
SCHOOL_YEAR_ENDS = (5, 29)
SHORTEST_YEAR_LOAN = timedelta(weeks=2)  # nearer to the end than this, the next year's is meant
LONGEST_LOAN = timedelta(days=3 * 366)
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Proposal:
    label: str
    due_on: date


def on_a_school_day(day: date) -> date:
    """The day itself, or the Friday before a weekend."""
    return day - timedelta(days=max(0, day.weekday() - SATURDAY + 1)) if day.weekday() >= SATURDAY else day


def end_of_school_year(*, today: date, ends: tuple[int, int] = SCHOOL_YEAR_ENDS) -> date:
    """The last school day of the year that a loan of today runs through. ``ends`` is (month, day)."""
    last = on_a_school_day(date(today.year, *ends))
    return last if last - today >= SHORTEST_YEAR_LOAN else on_a_school_day(date(today.year + 1, *ends))


def due_proposals(*, today: date, ends: tuple[int, int] = SCHOOL_YEAR_ENDS) -> tuple[Proposal, ...]:
    """The dates to offer, the most usual first; each falls on a school day."""
    return (
        Proposal("End of the school year", end_of_school_year(today=today, ends=ends)),
        Proposal("In 2 weeks", on_a_school_day(today + timedelta(weeks=2))),
        Proposal("In 6 weeks", on_a_school_day(today + timedelta(weeks=6))),
    )
