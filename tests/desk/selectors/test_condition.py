"""Condition by group: the same instruments, costs and index as in the inventory value."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from desk.selectors.condition import UNKNOWN_AGE, Condition, Month, age_group, condition_of, months_of, together
from desk.selectors.value import fleet_value
from inventory.models import Level
from inventory.rules.value import Band
from inventory.selectors.past import AsOf
from inventory.services.months import keep_month
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_school

pytestmark = pytest.mark.django_db
D = Decimal
SEIZED = ("third_valve_slide", "slide_seized", "severe")
BANDS = {"index_good_to": D("0.05"), "index_fair_to": D("0.10"), "index_poor_to": D("0.30")}


@pytest.fixture
def stuck(school):
    """A trumpet with a seized slide, and a sound one of another school, level and funding."""
    instrument = make_instrument(school=school, year_made=2018, funding_source="Title  I ")
    make_inspection(instrument=instrument, findings=[SEIZED])
    there = make_school()
    make_instrument(school=there, level=Level.INTERMEDIATE, year_made=None)
    return instrument


def test_the_index_is_that_of_the_inventory_value(stuck):
    found, value = condition_of(schools=None, today=TODAY), fleet_value(AsOf(TODAY)).total
    total = found.total
    assert (total.instruments, total.repair, total.replacement) == (2, value.repair, value.replacement)
    assert total.index == value.index == value.repair / value.replacement
    assert total.hours > 0
    assert total.to_repair == 1


def test_groups_are_counted_apart(stuck, school):
    found = condition_of(schools=None, today=TODAY)
    assert {name: one.instruments for name, one in found.schools[school.pk]["funding"].items()} == {"Title I": 1}
    assert {key: one.to_repair for key, one in found.by("ages").items()} == {1: 1, UNKNOWN_AGE: 0}
    assert {key: one.instruments for key, one in found.by("levels").items()} == {
        "student": 1,
        "intermediate": 1,
    }
    assert found.by_school[school.pk].verdicts == {"plays_with_limits": 1}
    assert found.by_school[school.pk].readiness["may_go_out"] == 0
    assert set(condition_of(schools=[school.pk], today=TODAY).schools) == {school.pk}


def test_a_fleet_s_index_is_the_ratio_of_sums_and_not_the_mean_of_ratios():
    """Facility condition index: $2 million of $20 million is 0.10 (BC Housing, Facility Condition Index: Asset
    Management Tool). The mean of 2 / 2 and 0 / 18 would be 0.5."""
    whole = together([Condition(repair=D(2), replacement=D(2)), Condition(repair=D(0), replacement=D(18))])
    assert whole.index == D("0.1")


@pytest.mark.parametrize(
    ("repair", "band"),
    [
        ("50", Band.GOOD), ("50.01", Band.FAIR), ("100", Band.FAIR), ("100.01", Band.POOR), ("300", Band.POOR),
        ("300.01", Band.CRITICAL),
    ],
)  # fmt: skip
def test_the_bands_change_after_five_ten_and_thirty_percent(repair, band):
    """A convention of facility managers (good to 5 %, fair to 10 %, poor to 30 %, critical above), no standard."""
    assert Condition(repair=D(repair), replacement=D(1000)).band(BANDS) == band
    assert Condition().band(BANDS) is None


@pytest.mark.parametrize(
    ("years", "group"), [(0, 0), (4, 0), (5, 1), (9, 1), (10, 2), (15, 3), (20, 4), (60, 4), (None, UNKNOWN_AGE)]
)
def test_ages_are_grouped_by_five_years(years, group):
    assert age_group(years) == group


def test_months_come_oldest_first_and_the_latest_of_many(school):
    for month, repair in ((6, 10), (7, 20), (8, 5)):
        keep_month(ends_on=date(2026, month, 28), sums={school.pk: (1, D(repair), D(100))}, actor=None, at=NOW)
    months = months_of(schools=None, most=2)
    assert months == [Month(date(2026, 7, 28), 1, D(20), D(100)), Month(date(2026, 8, 28), 1, D(5), D(100))]
    assert months[0].index == D("0.2")
    assert months_of(schools=frozenset(), most=2) == []


def test_it_is_read_again_only_where_something_happened(stuck):
    condition_of(schools=None, today=TODAY)
    with CaptureQueriesContext(connection) as asked:
        condition_of(schools=None, today=TODAY)
    assert len(asked) <= 3
