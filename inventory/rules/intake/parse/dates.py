"""Dates and years as people write them. Where day and month could be swapped, the US order counts."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Final

from core.sheets.cells import Cell
from inventory.rules.intake.parse.reading import Reading, UnreadableError, cell_text, is_nothing

EARLIEST_YEAR: Final = 1850
LATEST_YEAR: Final = 2100
# Day numbers of the 1900 date system (ECMA-376 part 1, 18.17.4.1): day 60 is a leap day that never
# was, so that from 1 March 1900 on the count runs from 30 December 1899.
DAY_ZERO: Final = date(1899, 12, 30)
SERIAL_DAYS: Final = range(20_000, 80_000)  # 1954 to 2119; smaller numbers are years or nonsense
PIVOT: Final = 10  # two-digit years up to this many years ahead are in this century

MONTHS: Final = {
    name[:length]: number
    for number, name in enumerate(
        [
            "january",
            "february",
            "march",
            "april",
            "may",
            "june",
            "july",
            "august",
            "september",
            "october",
            "november",
            "december",
        ],
        start=1,
    )
    for length in range(3, len(name) + 1)
}
SEASONS: Final = {"spring": 3, "summer": 6, "fall": 9, "autumn": 9}

_TIME = re.compile(r"[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[ap]\.?m\.?)?Z?$", re.IGNORECASE)
_WEEKDAY = re.compile(r"^(mon|tues?|wed(nes)?|thu(rs)?|fri|sat(ur)?|sun)(day)?\.?,? ", re.IGNORECASE)
_ABOUT = re.compile(r"^(c\.|ca\.?|circa|about|approx\.?|around|~)\s*|\s*(\?|\(\?\)|approx\.?|or so)$", re.IGNORECASE)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_NUMERIC = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|'?\d{2})")
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-/. ]*([a-z]{3,9})\.?,?[-/. ]*(\d{4}|'?\d{2})")
_MONTH_DAY = re.compile(r"([a-z]{3,9})\.?[-/. ]*(\d{1,2})(?:st|nd|rd|th)?[-/. ]*[, /-][-/. ]*(\d{4}|'?\d{2})")
_YEAR_MONTH_DAY = re.compile(r"(\d{4})[-/. ,]+([a-z]{3,9})\.?[-/. ]+(\d{1,2})")
_MONTH_YEAR = re.compile(r"([a-z]{3,9})\.?,?[-/. ]*(\d{4}|'?\d{2})")
_YEAR_MONTH = re.compile(r"(\d{4})[-/. ]([a-z]{3,9})")
_NUMERIC_MONTH = re.compile(r"(\d{1,2})[-/.](\d{4})|(\d{4})[-/.](\d{1,2})")
_SCHOOL_YEAR = re.compile(r"(?:sy|fy)?\s*(\d{4})\s*[-/–]\s*(\d{4}|\d{2})")
_YEAR = re.compile(r"(?:fy|sy|year)?\s*(\d{4})(?:\.0+)?")
_DAY_NUMBER = re.compile(r"(\d{5})(?:\.\d+)?")


def parse_date(cell: Cell, *, today: date | None) -> Reading[date | None]:
    """Read a date; a month or a year alone becomes its first day and is marked partial.

    ``today`` places two-digit years and refuses the future; None does neither (2000 to 2068, 1969 to 1999).
    """
    if isinstance(cell, date):
        return _checked(Reading(cell), cell.isoformat(), today)
    text = cell_text(cell)
    if is_nothing(text):
        return Reading(None)
    plain = _WEEKDAY.sub("", _TIME.sub("", text)).strip()
    plain, count = _ABOUT.subn("", plain)
    reading = _read(plain.lower().strip(), text, today)
    if count:
        reading = Reading(reading.value, _both(reading.note, "marked as uncertain"), is_partial=reading.is_partial)
    return _checked(reading, text, today)


def _both(first: str, second: str) -> str:
    return f"{first}; {second}" if first else second


def _checked(reading: Reading[date | None], text: str, today: date | None) -> Reading[date | None]:
    if reading.value is None:
        return reading
    if reading.value.year < EARLIEST_YEAR:
        message = f"is a date before {EARLIEST_YEAR}"
        raise UnreadableError(message)
    if today is not None and reading.value > today:
        message = f"is a date that has not come yet ({reading.value.isoformat()})"
        raise UnreadableError(message)
    if text and reading.value.year > LATEST_YEAR:
        message = "is not a date"
        raise UnreadableError(message)
    return reading


def _read(plain: str, text: str, today: date | None) -> Reading[date | None]:
    for read in (_read_day, _read_month, _read_year):
        reading = read(plain, today)
        if reading is not None:
            return reading
    message = "is not a date" if any(map(str.isdigit, text)) else "is not a date; write it like 2019-08-01"
    raise UnreadableError(message)


def _read_day(plain: str, today: date | None) -> Reading[date | None] | None:
    if found := _ISO.fullmatch(plain) or _COMPACT.fullmatch(plain):
        return Reading(_date(int(found[1]), int(found[2]), int(found[3])))
    if found := _NUMERIC.fullmatch(plain):
        return _numeric(int(found[1]), int(found[2]), _year(found[3], today))
    if (found := _DAY_MONTH.fullmatch(plain)) and found[2] in MONTHS:
        return Reading(_date(_year(found[3], today), MONTHS[found[2]], int(found[1])))
    if (found := _MONTH_DAY.fullmatch(plain)) and found[1] in MONTHS:
        return Reading(_date(_year(found[3], today), MONTHS[found[1]], int(found[2])))
    if (found := _YEAR_MONTH_DAY.fullmatch(plain)) and found[2] in MONTHS:
        return Reading(_date(int(found[1]), MONTHS[found[2]], int(found[3])))
    if (found := _DAY_NUMBER.fullmatch(plain)) and int(found[1]) in SERIAL_DAYS:
        day = DAY_ZERO + timedelta(days=int(found[1]))
        return Reading(day, f"{plain} is the spreadsheet's day number for {day.isoformat()}")
    return None


def _numeric(first: int, second: int, year: int) -> Reading[date | None]:
    if first > 12 >= second:  # months
        day = _date(year, second, first)
        return Reading(day, f"read as day, month, year: {day.isoformat()}")
    day = _date(year, first, second)
    is_ambiguous = second <= 12 and first != second
    return Reading(day, f"read as month, day, year: {day.isoformat()}" if is_ambiguous else "")


def _read_month(plain: str, today: date | None) -> Reading[date | None] | None:
    if found := _MONTH_YEAR.fullmatch(plain):
        month = MONTHS.get(found[1]) or SEASONS.get(found[1])
        if month:
            return _partial(_date(_year(found[2], today), month, 1), "only the month is given")
    if (found := _YEAR_MONTH.fullmatch(plain)) and found[2] in MONTHS:
        return _partial(_date(int(found[1]), MONTHS[found[2]], 1), "only the month is given")
    if found := _NUMERIC_MONTH.fullmatch(plain):
        month, year = int(found[1] or found[4]), int(found[2] or found[3])
        if 1 <= month <= 12:
            return _partial(_date(year, month, 1), "only the month is given")
    return None


def _read_year(plain: str, today: date | None) -> Reading[date | None] | None:
    if (found := _SCHOOL_YEAR.fullmatch(plain)) and int(found[2]) % 100 == (int(found[1]) + 1) % 100:
        return _partial(_date(int(found[1]), 7, 1), "only the school year is given")
    if found := re.fullmatch(r"'(\d{2})", plain):
        return _partial(_date(_year(found[1], today), 1, 1), "only the year is given")
    if found := _YEAR.fullmatch(plain):
        return _partial(_date(int(found[1]), 1, 1), "only the year is given")
    return None


def _partial(day: date, why: str) -> Reading[date | None]:
    return Reading(day, f"{why}; kept as {day.isoformat()}", is_partial=True)


def _date(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        message = "is not a date that exists"
        raise UnreadableError(message) from error


def _year(text: str, today: date | None) -> int:
    digits = text.lstrip("'")
    if len(digits) == 4:  # written out
        return int(digits)
    if today is None:
        return int(digits) + (2000 if int(digits) <= 68 else 1900)  # as POSIX strptime has it
    year = today.year // 100 * 100 + int(digits)
    return year - 100 if year > today.year + PIVOT else year


def parse_year(cell: Cell, *, today: date) -> Reading[int | None]:
    """Read the year something was made."""
    text = str(cell.year) if isinstance(cell, date) else cell_text(cell)
    if is_nothing(text):
        return Reading(None)
    plain, count = _ABOUT.subn("", text)
    note = "marked as uncertain" if count else ""
    found = re.fullmatch(r"(\d{4})(?:\.0+)?(s)?|'?(\d{2})", plain.strip())
    if found:
        year = _year(found[3], today) if found[3] else int(found[1])
        note = "only the decade is given" if found[2] else f"read as {year}" if found[3] else note
    else:
        try:
            reading = parse_date(plain, today=None)
        except UnreadableError as error:
            message = "is not a year"
            raise UnreadableError(message) from error
        if reading.value is None:
            return Reading(None)
        year, note = reading.value.year, note or "only the year of the date was taken"
    if not EARLIEST_YEAR <= year <= today.year + 1:
        message = f"is not a year between {EARLIEST_YEAR} and {today.year + 1}"
        raise UnreadableError(message)
    return Reading(year, note)
