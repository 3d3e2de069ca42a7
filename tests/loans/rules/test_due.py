"""Proposed return dates. That schools end in late May or June is common practice, no source; days of the week are the calendar's."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.catalog.load import catalog
from loans.rules.due import (
    due_proposals,
    end_of_school_year,
    end_of_term,
    first_term_ends,
    keep_until,
    on_a_school_day,
    school_year_ends,
    school_year_words,
)


@pytest.mark.parametrize(
    ("today", "end"),
    [
        (date(2026, 9, 14), date(2027, 5, 28)),  # May 29, 2027 is a Saturday
        (date(2026, 1, 5), date(2026, 5, 29)),  # a Friday
        (date(2026, 5, 20), date(2027, 5, 28)),  # nine days before the end, the next year is meant
        (date(2026, 5, 15), date(2026, 5, 29)),  # two weeks before, still this one
        (date(2028, 2, 29), date(2028, 5, 29)),  # a leap day; May 29, 2028 is a Monday
    ],
)
def test_the_school_year_ends_on_its_last_school_day(today, end):
    assert end_of_school_year(today=today, ends=(5, 29)) == end


def test_another_district_ends_in_june():
    assert end_of_school_year(today=date(2026, 9, 14), ends=(6, 12)) == date(2027, 6, 11)


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2090, 1, 1)))
def test_every_proposal_is_a_school_day_not_in_the_past_and_less_than_thirteen_months_away(today):
    for proposal in due_proposals(today=today, ends=(5, 29)):
        assert proposal.weekday() < 5
        assert today <= proposal
        assert (proposal - today).days < 396


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2090, 1, 1)))
def test_a_school_day_stays_and_a_weekend_becomes_the_friday_before(day):
    moved = on_a_school_day(day)
    assert 0 <= (day - moved).days <= 2
    assert (moved == day) is (day.weekday() < 5)


def test_the_end_of_the_year_is_the_district_s_setting_and_a_day_that_no_month_has_is_its_last():
    settings = {"school_year_ends_month": Decimal(6), "school_year_ends_day": Decimal(31)}
    assert school_year_ends(settings) == (6, 30)
    assert school_year_ends(settings | {"school_year_ends_month": Decimal(2)}) == (2, 28)
    assert school_year_ends(catalog().settings) == (5, 29)


@pytest.mark.parametrize(
    ("returned_on", "years", "until"),
    [
        (date(2026, 6, 12), 3, date(2029, 6, 12)),
        (date(2028, 2, 29), 1, date(2029, 3, 1)),
        (date(2028, 2, 29), 4, date(2032, 2, 29)),
        (date(2026, 6, 12), 0, date(2026, 6, 12)),
    ],
)
def test_a_paper_is_kept_for_whole_years(returned_on, years, until):
    assert keep_until(returned_on=returned_on, years=years) == until


@pytest.mark.parametrize(
    ("today", "end"),
    [
        (date(2026, 9, 14), date(2026, 12, 18)),  # a Friday
        (date(2026, 12, 10), date(2027, 5, 28)),  # so close to its end, the next term is meant
        (date(2027, 1, 11), date(2027, 5, 28)),
        (date(2027, 5, 20), date(2027, 12, 17)),  # December 18, 2027 is a Saturday
    ],
)
def test_a_term_ends_before_winter_or_with_the_year(today, end):
    assert end_of_term(today=today, ends=(5, 29), first_term=first_term_ends(catalog().settings)) == end


def test_a_school_year_is_written_with_both_its_years():
    assert [school_year_words(year) for year in (2027, 2000, 2101)] == ["2026–27", "1999–00", "2100–01"]
