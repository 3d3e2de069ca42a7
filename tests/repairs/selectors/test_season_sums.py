"""A school's share of the season: whole where it is kept, read again after something happened there."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument, School
from inventory.services.care import record_play_test
from inventory.services.state import retire
from repairs.selectors.season_sums import SHOWN, begin_of, seasons
from repairs.services.orders import bring_back, note_invoice, return_on_warranty, send_to_shop
from tests.factories import (
    NOW,
    TODAY,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_school,
    new_nonce,
)  # fmt: skip
from tests.repairs.makers import LEAKING_CORK
from tests.repairs.money_makers import (
    STUCK,
    finding_of,
    make_parts_instrument,
    make_sent_order,
    make_stuck_instrument,
    make_taken,
)  # fmt: skip

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
        make_inspection(instrument=make_instrument(school=place), findings=[LEAKING_CORK])
    assert [one.faults.total() for one in read(school, other).values()] == [1, 1]
    make_inspection(instrument=make_instrument(school=other), findings=[LEAKING_CORK])
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
        make_inspection(instrument=make_instrument(school=place), findings=[LEAKING_CORK])
    assert queries(school, other) == queries(school) == 7


def test_a_part_taken_for_another_instrument_is_no_fault_that_came_up(school):
    make_taken(make_parts_instrument(school=school), onto=make_ready_instrument(school=school))
    make_inspection(instrument=make_instrument(school=school), findings=[("bell", "missing_part", "moderate")])
    assert read(school)[school.pk].faults.total() == 1


def sent_back_on_warranty(school):
    """A stuck slide that a shop freed, that failed its play test and went back under warranty four days later."""
    instrument = make_stuck_instrument(school=school)
    finding = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[finding.pk], work="solder_brace")
    tech, at = order.asked_by, NOW + timedelta(days=5)
    order = bring_back(order=order, what_was_done="Freed", put_right=[finding.pk], actor=tech, at=at)
    note_invoice(order=order, amount=90, on=at.date(), actor=tech, at=at)
    record_play_test(instrument=instrument, result="fail", note="Stuck", actor=tech, at=at + timedelta(days=1))
    again = return_on_warranty(order=order, nonce=new_nonce(), actor=tech, at=at + timedelta(days=2))
    again = send_to_shop(order=again, actor=tech, at=at + timedelta(days=4))
    bring_back(order=again, what_was_done="Freed for good", actor=tech, at=at + timedelta(days=9))
    return note_invoice(order=again, amount=0, on=at.date(), actor=tech, at=at + timedelta(days=9))


def test_a_shop_s_work_sent_back_under_warranty_came_back_and_its_bill_of_nothing_is_no_order(school):
    sent_back_on_warranty(school)
    season = seasons.of(School.objects.filter(pk=school.pk), today=TODAY + timedelta(days=60), variant=365)[school.pk]
    assert (season.repaired["slide_seized"], season.back["slide_seized"]) == (1, 1)
    (line,) = season.back_lines
    assert (line.days, line.repaired.method) == (4, "solder_brace")
    assert season.bills == [("solder_brace", 1, Decimal(90))]


def test_a_shop_s_work_found_again_at_an_inspection_came_back(school):
    instrument = make_stuck_instrument(school=school)
    finding = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[finding.pk])
    at = NOW + timedelta(days=5)
    bring_back(order=order, what_was_done="Freed", put_right=[finding.pk], actor=order.asked_by, at=at)
    make_inspection(instrument=instrument, findings=STUCK, at=at + timedelta(days=20))
    season = seasons.of(School.objects.filter(pk=school.pk), today=TODAY + timedelta(days=60), variant=365)[school.pk]
    assert season.back["slide_seized"] == 1


def test_what_is_retired_is_not_one_step_from_unsafe(school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[UNSAFE])
    assert read(school)[school.pk].unsafe[0] == 1
    retire(instrument=instrument, is_retired=True, actor=None, at=NOW)
    assert read(school)[school.pk].unsafe[0] == 0
