"""The season's answers, from rows made for the question."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from inventory.models.inspections import Closed
from repairs.models import ShopOrder
from repairs.selectors.season import season_of
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument, make_school
from tests.repairs.makers import LEAKING_CORK, do_next, make_job, work_to_the_proof
from tests.repairs.money_makers import make_order


def season(user, *, now=NOW + timedelta(days=100), days: int = 365):
    return season_of(user, now=now, days=days)


def repaired_job(school, *, at=NOW + timedelta(hours=1)):
    job = make_job(school=school, findings=[LEAKING_CORK], at=at)
    work_to_the_proof(job)
    assert Finding.objects.filter(instrument=job.instrument, closed_because=Closed.REPAIRED).exists()
    return job


@pytest.mark.parametrize(("days", "count"), [(30, 1), (89, 1), (92, 0)])
def test_the_same_fault_found_again_within_ninety_days_has_come_back(school, tech, days, count):
    job = repaired_job(school)
    make_inspection(instrument=job.instrument, findings=[LEAKING_CORK], at=NOW + timedelta(days=days), purpose="spot")
    page = season(tech)
    assert len(page["back"]) == count
    if count:
        (line,) = page["back"]
        assert (line.instrument, line.back.days) == (job.instrument, days)
        assert line.back.repaired.method == "water_key_cork"
        assert [(share.back, share.repaired) for share in page["shares"]] == [(1, 1)]


def test_another_fault_there_is_no_come_back(school, tech):
    job = repaired_job(school)
    other = ("tuning_slide_water_key", "water_key_spring", "moderate")
    make_inspection(instrument=job.instrument, findings=[other], at=NOW + timedelta(days=9), purpose="spot")
    page = season(tech)
    assert (page["back"], page["repaired"]) == ((), 1)


def test_another_school_s_repairs_are_not_told(stranger, school):
    job = repaired_job(school)
    make_inspection(instrument=job.instrument, findings=[LEAKING_CORK], at=NOW + timedelta(days=9), purpose="spot")
    page = season(stranger)
    assert (page["back"], page["repaired"], page["jobs"], page["kinds"], page["unsafe"]) == ((), 0, 0, (), ())


def test_a_promise_is_not_started_until_its_first_step(school, tech):
    job = make_job(school=school, due_on=TODAY + timedelta(days=20))
    make_job(school=school)  # without a date nothing was promised
    assert season(tech)["not_started"] == (job,)
    do_next(job)
    assert season(tech)["not_started"] == ()


def test_unsafe_stands_before_one_step_from_it(school, tech):
    drum = make_instrument(school=school, kind_code="marimba")
    make_inspection(instrument=drum, findings=[("frame", "frame_fault", "severe")])
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("case", "unsafe_to_handle", "moderate")])
    lines = season(tech)["unsafe"]
    assert [line.steps for line in lines] == sorted(line.steps for line in lines)
    assert {line.finding.instrument for line in lines} >= {instrument}


def test_a_bill_for_want_of_a_tool_is_weighed_with_the_tool(school, tech):
    job = make_job(school=school, findings=[LEAKING_CORK])
    bench = job.bench
    order = make_order(instrument=make_ready_instrument(school=school), work="water_key_cork")
    lacking = catalog().methods["water_key_cork"].tools
    bench.tools = [tool for tool in bench.tools if tool not in lacking]
    bench.save()
    ShopOrder.objects.filter(pk=order.pk).update(
        sent_at=NOW, returned_at=NOW + timedelta(days=3), invoice_amount=Decimal(45)
    )
    line = next(one for one in season(tech)["tools"] if one.is_paid)
    assert line.case.tools == tuple(sorted(lacking))
    assert line.case.bills_amount == Decimal(45)
    assert Decimal(0) < line.case.saved_amount < Decimal(45)


def test_a_fault_seen_in_two_inspections_counts_once_by_kind_and_age(school, tech):
    instrument = make_instrument(school=school, year_made=2024)
    for days in (0, 10):
        make_inspection(instrument=instrument, findings=[LEAKING_CORK], at=NOW + timedelta(days=days), purpose="spot")
    make_ready_instrument(school=school)  # of the kind, year not known, nothing found
    (line,) = season(tech)["kinds"]
    assert [(name, cell.instruments, cell.faults) for name, cell in line.by_age] == [
        ("up to 5 years", 1, 1), ("year not known", 1, 0),
    ]  # fmt: skip
    assert line.total.per_instrument == 0.5


def test_faults_of_a_kind_that_left_the_catalog_are_still_told(school, tech):
    make_inspection(
        instrument=make_instrument(school=school, year_made=2024), findings=[LEAKING_CORK], at=NOW, purpose="spot"
    )
    Instrument.objects.update(kind_code="horn_alto", options={})
    (line,) = season(tech)["kinds"]
    assert line.kind.name == "Horn alto (no longer in the catalog)"
    assert [(name, cell.faults) for name, cell in line.by_age] == [("up to 5 years", 1)]


def test_a_shorter_look_back_leaves_old_findings_out(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[LEAKING_CORK])
    assert season(tech, days=365)["kinds"]
    assert season(tech, days=90)["kinds"] == ()


def test_the_questions_take_as_many_queries_for_five_jobs_as_for_one(school, tech):
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            season(type(tech).objects.get(pk=tech.pk))
        return len(caught)

    first = repaired_job(school)
    make_inspection(instrument=first.instrument, findings=[LEAKING_CORK], at=NOW + timedelta(days=9), purpose="spot")
    few = queries()
    for _ in range(4):
        job = repaired_job(school)
        make_inspection(instrument=job.instrument, findings=[LEAKING_CORK], at=NOW + timedelta(days=9), purpose="spot")
    assert queries() == few


def test_nothing_to_tell_at_a_school_without_instruments(director):
    make_school()
    page = season(director)
    assert (page["jobs"], page["unsafe_now"], page["tools"], page["longer"]) == (0, 0, (), ())
