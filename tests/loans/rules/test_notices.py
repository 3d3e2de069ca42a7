"""The days of reminders against every day of a loan, one by one; the quiet hours by hand."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from loans.rules.notices import NoticeDays, Owed, handed_over_from, letter_round, reminders_owed

LENT, DUE = date(2027, 2, 1), date(2027, 5, 28)
DAYS = NoticeDays(before=7, after=3, to_sign=7, again=14, most=3)


def said_over_a_year(*, is_to_sign: bool, lent_on: date = LENT, days: NoticeDays = DAYS) -> dict[Owed, date]:
    """What a run every day makes, each thing on the first day it is owed."""
    said: dict[Owed, date] = {}
    for number in range(365):
        today = lent_on + timedelta(days=number)
        for one in reminders_owed(lent_on=lent_on, due_on=DUE, is_to_sign=is_to_sign, today=today, days=days):
            said.setdefault(one, today)
    return said


def test_each_is_owed_on_its_day_and_no_more_than_so_often():
    assert said_over_a_year(is_to_sign=True) == {
        Owed("signature", LENT, 1): date(2027, 2, 8),
        Owed("signature", LENT, 2): date(2027, 2, 22),
        Owed("signature", LENT, 3): date(2027, 3, 8),
        Owed("due_soon", DUE, 1): date(2027, 5, 21),
        Owed("overdue", DUE, 1): date(2027, 5, 31),
        Owed("overdue", DUE, 2): date(2027, 6, 14),
        Owed("overdue", DUE, 3): date(2027, 6, 28),
    }
    assert {one.sort for one in said_over_a_year(is_to_sign=False)} == {"due_soon", "overdue"}


def test_a_letter_takes_the_place_of_the_reminder_whose_day_has_come():
    def on(days: int, figures: NoticeDays = DAYS) -> int:
        return letter_round(due_on=DUE, today=DUE + timedelta(days=days), days=figures)

    assert [on(days) for days in (1, 3, 16, 17, 31, 300)] == [1, 1, 1, 2, 3, 3]
    assert on(300, NoticeDays(before=7, after=0, to_sign=7, again=14, most=3)) == 1  # reminders are off


def test_zero_days_are_never():
    none = NoticeDays(before=0, after=0, to_sign=0, again=14, most=3)
    assert said_over_a_year(is_to_sign=True, days=none) == {}


def test_what_is_lent_for_a_few_days_is_not_due_soon_and_still_late():
    said = said_over_a_year(is_to_sign=False, lent_on=DUE - timedelta(days=7))
    assert {one.sort for one in said} == {"overdue"}


def test_after_a_long_pause_only_the_latest_is_owed():
    late = DUE + timedelta(days=40)
    owed = reminders_owed(lent_on=LENT, due_on=DUE, is_to_sign=False, today=late, days=DAYS)
    assert owed == [Owed("overdue", DUE, 3)]


@pytest.mark.parametrize(
    ("now", "then"),
    [
        ("2027-05-21 12:00", "2027-05-21 12:00"),  # a Friday
        ("2027-05-21 03:30", "2027-05-21 07:00"),
        ("2027-05-21 19:00", "2027-05-24 07:00"),
        ("2027-05-22 12:00", "2027-05-24 07:00"),
        ("2027-05-23 23:59", "2027-05-24 07:00"),
        ("2027-05-24 18:59", "2027-05-24 18:59"),
        ("2027-05-24 19:00", "2027-05-25 07:00"),
    ],
)
def test_mail_waits_for_the_hours_of_a_school_day(now, then):
    found = handed_over_from(datetime.fromisoformat(now), opens=7, closes=19, on_weekends=False)
    assert found == datetime.fromisoformat(then)


def test_on_weekends_only_where_the_district_wants_it():
    saturday = datetime.fromisoformat("2027-05-22 12:00")
    assert handed_over_from(saturday, opens=7, closes=19, on_weekends=True) == saturday
