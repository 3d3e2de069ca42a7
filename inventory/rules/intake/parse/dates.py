"""Dates and years as people write them.

Where day and month could be swapped, the column's order counts (inventory/rules/intake/orders.py), or else the US order.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from core.cells import Cell
from core.translation import gettext as _
from inventory.rules.intake.parse.reading import AskedError, Reading, UnreadableError, reads_cells, without_doubt

EARLIEST_YEAR: Final = 1850
LATEST_YEAR: Final = 2100
# Day numbers of the 1900 date system (ECMA-376 part 1, 18.17.4.1): day 60 is a leap day that never
# was, so that from 1 March 1900 on the count runs from 30 December 1899.
DAY_ZERO: Final = date(1899, 12, 30)
SERIAL_DAYS: Final = range(20_000, 80_000)  # 1954 to 2119; smaller numbers are years or nonsense
PIVOT: Final = 10  # two-digit years up to this many years ahead are in this century


class DateOrder(StrEnum):
    """Which comes first in 3/4/2019. "" is not settled: the US order counts, with a remark on the row."""

    MONTH_DAY = "month_day"
    DAY_MONTH = "day_month"
    ASK = "ask"  # nothing settles it, so nothing is taken


_NAMES: Final = [
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
]  # fmt: skip
MONTHS: Final = {
    name[:length]: number for number, name in enumerate(_NAMES, start=1) for length in range(3, len(name) + 1)
}
SEASONS: Final = {"spring": 3, "summer": 6, "fall": 9, "autumn": 9}

_TIME = re.compile(r"[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[ap]\.?m\.?)?Z?$", re.IGNORECASE)
_WEEKDAY = re.compile(r"^(mon|tues?|wed(nes)?|thu(rs)?|fri|sat(ur)?|sun)(day)?\.?,? ", re.IGNORECASE)

_DAY, _MONTH, _YEAR = r"(?P<day>\d{1,2})", r"(?P<month>\d{1,2})", r"(?P<year>\d{4})"
_ORDINAL, _NAME, _ANY_YEAR = _DAY + "(?:st|nd|rd|th)?", "(?P<name>[a-z]{3,9})", r"(?P<year>\d{4}|'?\d{2})"
# The first form that fits and makes sense counts.
_FORMS: Final = tuple(
    re.compile(form)
    for form in (
        rf"{_YEAR}[-/.]{_MONTH}[-/.]{_DAY}",
        r"(?P<year>(?:19|20)\d{2})(?P<month>\d{2})(?P<day>\d{2})",
        rf"(?P<first>\d{{1,2}})[-/. ](?P<second>\d{{1,2}})[-/. ]{_ANY_YEAR}",
        rf"{_ORDINAL}[-/. ]*{_NAME}\.?,?[-/. ]*{_ANY_YEAR}",
        rf"{_NAME}\.?[-/. ]*{_ORDINAL}[-/. ]*[, /-][-/. ]*{_ANY_YEAR}",
        rf"{_YEAR}[-/. ,]+{_NAME}\.?[-/. ]+{_DAY}",
        r"(?P<number>\d{5})(?:\.\d+)?",
        rf"{_NAME}\.?,?[-/. ]*{_ANY_YEAR}",
        rf"{_YEAR}[-/. ]{_NAME}",
        rf"{_MONTH}[-/.]{_YEAR}",
        rf"{_YEAR}[-/.]{_MONTH}",
        rf"(?:sy|fy)?\s*{_YEAR}\s*[-/–]\s*(?P<next>\d{{4}}|\d{{2}})",
        r"(?P<year>'\d{2})",
        rf"(?:fy|sy|year)?\s*{_YEAR}(?:\.0+)?",
    )
)


@reads_cells(None)
def parse_date(text: str, *, today: date | None, order: str = "") -> Reading[date | None]:
    """Read a date; a month or a year alone becomes its first day and is marked partial.

    ``order`` is that of the column (DateOrder). ``today`` places two-digit years and refuses the future; None does
    neither (2000 to 2068, 1969 to 1999).
    """
    plain, doubt = _plain(text)
    read = (_from_parts(found.groupdict(), today, order) for form in _FORMS if (found := form.fullmatch(plain)))
    day, note, is_partial = next(filter(None, read), (date.max, "", False))
    if day.year > LATEST_YEAR:
        raise UnreadableError(_("is not a date; write it like 2019-08-01"))
    if day.year < EARLIEST_YEAR:
        raise UnreadableError(_("is a date before %(year)s", year=EARLIEST_YEAR))
    if today is not None and day > today:
        raise UnreadableError(_("is a date in the future (%(day)s)", day=day.isoformat()))
    return Reading(day, "; ".join(filter(None, (note, doubt))), is_partial)


def _plain(text: str) -> tuple[str, str]:
    """Return the date without weekday, time of day and doubt, and the doubt."""
    return without_doubt(_WEEKDAY.sub("", _TIME.sub("", text)).strip().lower())


def _from_parts(parts: dict[str, str], today: date | None, order: str) -> tuple[date, str, bool] | None:
    """Return the day, a note and whether it is partial; None where the parts make no date of this form."""
    if number := parts.get("number"):
        day = DAY_ZERO + timedelta(days=int(number))
        note = _("%(number)s is the spreadsheet's day number for %(day)s", number=number, day=day.isoformat())
        return (day, note, False) if int(number) in SERIAL_DAYS else None
    year = _year(parts["year"], today)
    if "next" in parts:
        is_school_year = int(parts["next"]) % 100 == (year + 1) % 100
        return _partial(_date(year, 7, 1), _("only the school year is given")) if is_school_year else None
    if "first" in parts:
        return _numeric(int(parts["first"]), int(parts["second"]), year, order)
    month = int(parts.get("month", 0))
    if name := parts.get("name"):
        month = MONTHS.get(name, 0) or ("day" not in parts and SEASONS.get(name, 0))
        if not month:
            return None
    if "day" in parts:
        return _date(year, month, int(parts["day"])), "", False
    if "month" in parts and not 1 <= month <= 12:
        return None
    return _partial(_date(year, month or 1, 1), _("only the month is given") if month else _("only the year is given"))


def _numeric(first: int, second: int, year: int, order: str) -> tuple[date, str, bool]:
    shown = _order(first, second)
    if order == DateOrder.ASK and shown == EITHER:
        days = {"first": _date(year, first, second).isoformat(), "other": _date(year, second, first).isoformat()}
        raise AskedError(_("may be %(first)s or %(other)s; say which for the whole column", **days), asks="date")
    if shown == DateOrder.DAY_MONTH or (shown == EITHER and order == DateOrder.DAY_MONTH):
        day = _date(year, second, first)
        note = "" if order == DateOrder.DAY_MONTH else _("read as day, month, year: %(day)s", day=day.isoformat())
        return day, note, False
    day = _date(year, first, second)
    is_unclear = shown == EITHER and not order
    return day, _("read as month, day, year: %(day)s", day=day.isoformat()) if is_unclear else "", False


EITHER: Final = "either"
_NUMBERS = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](?:\d{4}|'?\d{2})")


def order_in(cell: Cell) -> str:
    """Return which order a date shows: one of DateOrder, EITHER where both are possible, "" where it is written out."""
    if not isinstance(cell, str):
        return ""
    plain, _doubt = _plain(" ".join(cell.split()))
    found = _NUMBERS.fullmatch(plain)
    return _order(int(found[1]), int(found[2])) if found else ""


def _order(first: int, second: int) -> str:
    if first > 12 >= second:  # months
        return DateOrder.DAY_MONTH
    if second > 12 >= first:
        return DateOrder.MONTH_DAY
    return EITHER if first != second and second <= 12 else ""


def _partial(day: date, why: str) -> tuple[date, str, bool]:
    return day, _("%(why)s; kept as %(day)s", why=why, day=day.isoformat()), True


def _date(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        raise UnreadableError(_("is not a date that exists")) from error


def _year(text: str, today: date | None) -> int:
    digits = text.lstrip("'")
    if len(digits) == 4:  # written out
        return int(digits)
    if today is None:
        return int(digits) + (2000 if int(digits) <= 68 else 1900)  # as POSIX strptime has it
    year = today.year // 100 * 100 + int(digits)
    return year - 100 if year > today.year + PIVOT else year


@reads_cells(None)
def parse_year(text: str, *, today: date) -> Reading[int | None]:
    """Read the year something was made."""
    plain, note = without_doubt(text)
    found = re.fullmatch(r"(\d{4})(?:\.0+)?(s)?|'?(\d{2})", plain)
    if found:
        year = _year(found[3], today) if found[3] else int(found[1])
        note = _("only the decade is given") if found[2] else _("read as %(year)s", year=year) if found[3] else note
    else:
        try:
            day = parse_date(plain, today=None).value
        except UnreadableError as error:
            raise UnreadableError(_("is not a year")) from error
        if day is None:
            return Reading(None)
        year, note = day.year, note or _("only the year of the date was taken")
    if not EARLIEST_YEAR <= year <= today.year + 1:
        raise UnreadableError(
            _("is not a year between %(first)s and %(last)s", first=EARLIEST_YEAR, last=today.year + 1)
        )
    return Reading(year, note)
