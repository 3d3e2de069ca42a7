"""Which months are still to be kept, and what was known at the end of one."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from desk.selectors.months import month_end, month_sums, months_to_keep
from desk.selectors.value import fleet_value
from inventory.selectors.past import AsOf
from inventory.services.months import keep_month
from tests.factories import NOW, make_inspection, make_instrument

pytestmark = pytest.mark.django_db
JUNE = datetime(2026, 6, 10, 15, tzinfo=UTC)
SEIZED = ("third_valve_slide", "slide_seized", "severe")


@pytest.mark.parametrize(
    ("day", "end"), [(date(2028, 2, 1), date(2028, 2, 29)), (date(2026, 12, 31), date(2026, 12, 31))]
)
def test_a_month_ends_on_its_last_day(day, end):
    assert month_end(day) == end


def test_months_that_are_over_are_kept_from_the_first_event_on(school):
    assert months_to_keep(today=date(2026, 9, 14)) == []
    make_instrument(school=school, at=JUNE)
    ends = [date(2026, 6, 30), date(2026, 7, 31), date(2026, 8, 31)]
    assert months_to_keep(today=date(2026, 9, 14)) == ends
    assert months_to_keep(today=date(2026, 9, 30)) == ends
    keep_month(ends_on=ends[1], sums=month_sums(ends[1]), actor=None, at=NOW)
    assert months_to_keep(today=date(2026, 9, 14)) == [ends[0], ends[2]]


def test_a_month_s_sums_are_what_the_value_of_that_day_says_later_too(school):
    """What is found in September changes nothing of August."""
    instrument = make_instrument(school=school, at=JUNE)
    make_inspection(instrument=instrument, findings=[SEIZED], at=datetime(2026, 8, 20, 15, tzinfo=UTC))
    august = month_sums(date(2026, 8, 31))
    make_instrument(school=school, at=NOW)
    make_inspection(instrument=instrument, findings=[("bell_bow", "dent_small", "severe"), SEIZED], at=NOW)
    assert month_sums(date(2026, 8, 31)) == august
    day = date(2026, 8, 31)
    total = fleet_value(AsOf(day, known_on=day)).total
    assert august == {school.pk: (1, total.repair, total.replacement)}
    assert total.repair > 0
    assert month_sums(date(2026, 5, 31)) == {}
    assert month_sums(date(2026, 7, 31))[school.pk][:2] == (1, Decimal(0))
