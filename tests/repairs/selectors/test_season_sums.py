"""A school's share of the season: whole where it is kept, read again after something happened there."""

from __future__ import annotations

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument, School
from repairs.selectors.season_sums import SHOWN, begin_of, seasons
from tests.factories import TODAY, make_inspection, make_instrument, make_ready_instrument, make_school
from tests.repairs.money_makers import make_parts_instrument, make_taken

CORK = ("tuning_slide_water_key", "water_key_leak", "moderate")
UNSAFE = ("case", "unsafe_to_handle", "severe")


def read(*schools: School, days: int = 365):
    chosen = School.objects.filter(pk__in=[one.pk for one in schools])
    return seasons.of(chosen, today=TODAY + timedelta(days=1), variant=days)


def test_a_season_begins_with_its_first_day():
    assert begin_of(TODAY, 1).date() == TODAY - timedelta(days=1)
    assert (begin_of(TODAY, 1).hour, begin_of(TODAY, 1).minute) == (0, 0)


def test_only_the_school_where_something_happened_is_read_again(school):
    other = make_school()
    for place in (school, other):
        make_inspection(instrument=make_instrument(school=place), findings=[CORK])
    assert [one.faults.total() for one in read(school, other).values()] == [1, 1]
    make_inspection(instrument=make_instrument(school=other), findings=[CORK])
    with CaptureQueriesContext(connection) as caught:
        sums = read(school, other)
    assert (sums[school.pk].faults.total(), sums[other.pk].faults.total()) == (1, 2)
    (reading,) = [one["sql"] for one in caught if "year_made" in one["sql"]]
    assert f"IN ({other.pk})" in reading


def test_numbers_count_all_and_lists_stop(school):
    for _ in range(SHOWN + 2):
        make_inspection(instrument=make_instrument(school=school), findings=[UNSAFE])
    season = read(school)[school.pk]
    assert season.unsafe[0] == SHOWN + 2
    assert [number for _, number, _ in season.unsafe_lines] == sorted(
        Instrument.objects.values_list("asset_number", flat=True)
    )[:SHOWN]


def test_reading_takes_as_many_queries_for_two_schools_as_for_one(school):
    def queries(*schools: School) -> int:
        seasons.forget()
        with CaptureQueriesContext(connection) as caught:
            read(*schools)
        return len(caught)

    other = make_school()
    for place in (school, other, other):
        make_inspection(instrument=make_instrument(school=place), findings=[CORK])
    assert queries(school, other) == queries(school) == 6


def test_a_part_taken_for_another_instrument_is_no_fault_that_came_up(school):
    make_taken(make_parts_instrument(school=school), onto=make_ready_instrument(school=school))
    make_inspection(instrument=make_instrument(school=school), findings=[("bell", "missing_part", "moderate")])
    assert read(school)[school.pk].faults.total() == 1
