"""Days in words, beside what Django's own filter makes of them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import dateformat, translation
from django.utils.formats import date_format
from django.utils.translation import gettext

from core.days import add_months, day_of, full_day, month_and_year, short_day


@pytest.mark.parametrize("month", range(1, 13))
def test_days_are_said_as_templates_say_them(month):
    for day in (date(2026, month, 1), date(2027, month, 1) - timedelta(days=1)):
        assert full_day(day) == dateformat.format(day, "M j, Y")
        assert short_day(day) == dateformat.format(day, "M j")
        assert month_and_year(day) == dateformat.format(day, "M Y")


def test_an_address_names_a_day_of_the_calendar_or_none():
    assert day_of("2028-02-29") == date(2028, 2, 29)
    assert [day_of(text) for text in ("", "2027-02-29", "2026-13-45", "9" * 30, "\ud800", "May")] == [None] * 6


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2025, 12, 15), 1, date(2026, 1, 15)),
        (date(2025, 8, 31), 30, date(2028, 2, 29)),
        (date(2025, 3, 1), 12, date(2026, 3, 1)),
    ],
)
def test_months_are_added_as_people_count_them(day, months, then):
    assert add_months(day, months) == then


def test_months_are_translated():
    with translation.override("de"):
        assert short_day(date(2026, 3, 3)) == dateformat.format(date(2026, 3, 3), "M j") != "Mar 3"


def test_months_are_written_small_in_spanish():
    """Outside check: the orthography of the Spanish academies (2010) writes months without a capital."""
    day = date(2026, 12, 7)
    with translation.override("es-mx"):
        assert short_day(day) == date_format(day, gettext("M j")) == "7 dic"
        assert full_day(day) == date_format(day, gettext("M j, Y")) == "7 dic 2026"
        assert date_format(day, gettext("F j, Y")) == "7 de diciembre de 2026"
