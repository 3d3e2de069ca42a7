"""When a family is reminded of a loan, and when mail may be handed over. Days and wall-clock times of the district."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

DUE_SOON, OVERDUE, SIGNATURE = "due_soon", "overdue", "signature"
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class NoticeDays:
    """The district's figures, in days; 0 for the first three means such reminders are not sent."""

    before: int  # a due date
    after: int  # a due date
    to_sign: int  # after hand-out
    again: int  # between two reminders of one thing
    most: int  # reminders of one thing


class Owed(NamedTuple):
    """A reminder that is owed: of what, about which day, and the how many-eth."""

    sort: str
    about_on: date
    round: int


def reminders_owed(*, lent_on: date, due_on: date, is_to_sign: bool, today: date, days: NoticeDays) -> list[Owed]:
    """Return the reminders whose day has come for an open loan, of each sort the latest only.

    Those that were missed, as while the server was off, are not caught up one by one. What is lent for less than the
    days before is not said to be due soon: its family has just heard the date.
    """
    owed = []
    remind_on = due_on - timedelta(days=days.before)
    if days.before and lent_on < remind_on <= today <= due_on:
        owed.append(Owed(DUE_SOON, due_on, 1))
    if late := _round_on(today, since=due_on, first=days.after, days=days):
        owed.append(Owed(OVERDUE, due_on, late))
    if is_to_sign and (unsigned := _round_on(today, since=lent_on, first=days.to_sign, days=days)):
        owed.append(Owed(SIGNATURE, lent_on, unsigned))
    return owed


def letter_round(*, due_on: date, today: date, days: NoticeDays) -> int:
    """Return which reminder a letter written that day takes the place of: the latest whose day has come, or the first."""
    return max(1, _round_on(today, since=due_on, first=days.after, days=days))


def _round_on(today: date, *, since: date, first: int, days: NoticeDays) -> int:
    """Return which reminder has come by that day, 0 for none yet."""
    passed = (today - since).days - first
    return min(1 + passed // days.again, days.most) if first and passed >= 0 else 0


def handed_over_from(local: datetime, *, opens: int, closes: int, on_weekends: bool) -> datetime:
    """Return the moment itself if mail may be handed over then, else the next one; naive, by the clock on the wall.

    From the hour ``opens`` until before the hour ``closes``.
    """

    def is_quiet(day: date) -> bool:
        return day.weekday() >= SATURDAY and not on_weekends

    if not is_quiet(local.date()) and opens <= local.hour < closes:
        return local
    day = local.date() if local.hour < opens else local.date() + timedelta(days=1)
    while is_quiet(day):
        day += timedelta(days=1)
    return datetime.combine(day, time(opens))
