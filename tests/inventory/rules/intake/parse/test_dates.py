"""Dates in the forms that school lists have; the day number is checked against ECMA-376 part 1, 18.17.4.1."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.sheets import CellTrouble
from inventory.rules.intake.parse.dates import parse_date, parse_year
from inventory.rules.intake.parse.reading import UnreadableError

TODAY = date(2026, 11, 25)
PAST = st.dates(min_value=date(1950, 1, 1), max_value=TODAY)
# Two-digit years reach back 89 years from today and no further.
NEAR_PAST = st.dates(min_value=date(1937, 1, 1), max_value=TODAY)


@pytest.mark.parametrize(
    "text",
    [
        "2019-08-01",
        "8/1/2019",
        "08/01/19",
        "8/1/19",
        "1-Aug-19",
        "1 Aug 2019",
        "Aug 1, 2019",
        "August 1st, 2019",
        "Thu, Aug. 1 2019",
        "20190801",
        "2019/8/1",
        "2019-08-01 00:00:00",
        "8/1/2019 1:05 PM",
        "2019 August 1",
        "43678",
        "43678.5",
    ],
)
def test_a_day_is_read_in_every_form(text):
    reading = parse_date(text, today=TODAY)
    assert reading.value == date(2019, 8, 1)
    assert not reading.is_partial


@pytest.mark.parametrize(
    ("text", "first_day"),
    [
        ("Aug 2019", date(2019, 8, 1)),
        ("Sept. 2019", date(2019, 9, 1)),
        ("8/2019", date(2019, 8, 1)),
        ("2019-08", date(2019, 8, 1)),
        ("Fall 2019", date(2019, 9, 1)),
        ("2019", date(2019, 1, 1)),
        ("2019.0", date(2019, 1, 1)),
        ("'98", date(1998, 1, 1)),
        ("2018-19", date(2018, 7, 1)),
        ("SY 2018-2019", date(2018, 7, 1)),
        ("c. 2005", date(2005, 1, 1)),
    ],
)
def test_a_month_or_year_alone_is_marked_as_partial_and_noted(text, first_day):
    reading = parse_date(text, today=TODAY)
    assert (reading.value, reading.is_partial) == (first_day, True)
    assert "only the" in reading.note


def test_day_and_month_that_could_be_swapped_are_read_in_us_order_with_a_note():
    assert parse_date("3/4/2019", today=TODAY).value == date(2019, 3, 4)
    assert "month, day, year" in parse_date("3/4/2019", today=TODAY).note
    assert parse_date("3/3/2019", today=TODAY).note == ""
    assert parse_date("3/14/2019", today=TODAY).note == ""


def test_a_day_above_twelve_in_front_is_a_day_and_noted():
    reading = parse_date("13/8/2019", today=TODAY)
    assert reading.value == date(2019, 8, 13)
    assert "day, month, year" in reading.note


@pytest.mark.parametrize("text", ["", "n/a", "-", "?", "unknown", "TBD"])
def test_words_for_nothing_give_no_date(text):
    assert parse_date(text, today=TODAY).value is None


@pytest.mark.parametrize(
    "text",
    [
        "2/30/2019",
        "13/13/2019",
        "soon",
        "19-Sep",
        "12345",
        "99999",
        "1/1/0019",
        "2027-01-01",
        "11/26/2026",
        "Trumpet 2019",
        "9999-12-31",
        "4500 2019",
    ],
)
def test_what_is_no_past_date_is_refused(text):
    with pytest.raises(UnreadableError, match=r"is (not )?a date"):
        parse_date(text, today=TODAY)


def test_a_cell_in_trouble_says_so():
    with pytest.raises(UnreadableError, match="formula without a value"):
        parse_date(CellTrouble("a formula without a value"), today=TODAY)


@given(PAST, st.sampled_from(["%Y-%m-%d", "%m/%d/%Y", "%d-%b-%Y", "%B %d, %Y", "%b %d %Y", "%Y%m%d", "%d %B %Y"]))
def test_every_written_day_reads_back(day, form):
    assert parse_date(day.strftime(form), today=TODAY).value == day


@given(NEAR_PAST, st.sampled_from(["%m/%d/%y", "%d-%b-%y", "%b %d, %y"]))
def test_two_digit_years_are_never_in_the_future(day, form):
    assert parse_date(day.strftime(form), today=TODAY).value == day


@given(st.dates(min_value=date(1954, 10, 4), max_value=TODAY))
def test_every_day_number_reads_back(day):
    # ECMA-376 part 1, 18.17.4.1: serial 25569 is 1970-01-01 in the 1900 date system.
    number = (day - date(1970, 1, 1)).days + 25_569
    assert parse_date(str(number), today=TODAY).value == day


@given(st.text(max_size=30))
def test_any_text_gives_a_date_or_a_refusal(text):
    try:
        reading = parse_date(text, today=TODAY)
    except UnreadableError:
        return
    assert reading.value is None or reading.value <= TODAY


@pytest.mark.parametrize(
    ("cell", "year"),
    [
        ("1998", 1998),
        ("1998.0", 1998),
        ("c. 1998", 1998),
        ("1998?", 1998),
        ("'98", 1998),
        ("98", 1998),
        ("1990s", 1990),
        ("8/1/2019", 2019),
        (date(2001, 2, 3), 2001),
        ("?", None),
    ],
)
def test_years_are_read(cell, year):
    assert parse_year(cell, today=TODAY).value == year


@pytest.mark.parametrize("text", ["1700", "2028", "old", "12345"])
def test_years_that_cannot_be_are_refused(text):
    with pytest.raises(UnreadableError, match="year"):
        parse_year(text, today=TODAY)


def test_the_first_and_last_year_that_can_be():
    assert parse_date("1850-01-01", today=TODAY).value == date(1850, 1, 1)
    assert [parse_year(text, today=TODAY).value for text in ("1850", "2027")] == [1850, 2027]
    for text in ("1849", "2028"):
        with pytest.raises(UnreadableError, match="between 1850 and 2027"):
            parse_year(text, today=TODAY)
