"""Days in words, as the ``date`` filter of templates says them: for tables, messages and rules.

That filter reads its format again for each value, which takes seven times as long.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date

from core.translation import gettext as _
from core.translation import gettext_noop

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")  # Django translates them
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")  # and these
SHORT_DAYS = 300  # for so long a day needs no year
FULL_MONTHS = (
    gettext_noop("January"), gettext_noop("February"), gettext_noop("March"), gettext_noop("April"),
    gettext_noop("May"), gettext_noop("June"), gettext_noop("July"), gettext_noop("August"),
    gettext_noop("September"), gettext_noop("October"), gettext_noop("November"), gettext_noop("December"),
)  # fmt: skip


def day_of(text: str) -> date | None:
    """Return the day that an address names, 2027-05-28, or None."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def add_months(day: date, months: int) -> date:
    """Return the same day so many months later, or the last day of that month."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


def _month(day: date) -> str:
    short, full = _(MONTHS[day.month - 1]), _(FULL_MONTHS[day.month - 1])
    return short if full.islower() else short.title()  # Spanish writes its months small


def full_day(day: date) -> str:
    """Return "Mar 3, 2026"."""
    return _("%(month)s %(day)s, %(year)s", month=_month(day), day=day.day, year=day.year)


def short_day(day: date) -> str:
    """Return a day whose year is clear: "Mar 3"."""
    return _("%(month)s %(day)s", month=_month(day), day=day.day)


def weekday(day: date) -> str:
    """Return "Tue"."""
    return _(WEEKDAYS[day.weekday()])


def full_month_day(day: date) -> str:
    """Return a day of every year: "May 29"."""
    return _("%(full_month)s %(day)s", full_month=_(FULL_MONTHS[day.month - 1]), day=day.day)


def month_and_year(day: date) -> str:
    """Return "Mar 2026"."""
    return _("%(month)s %(year)s", month=_month(day), year=day.year)
