"""What it would take to make instruments play, as their rows have it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument
from repairs.selectors.outlook import Outlook, outlooks_of, shop_days
from repairs.selectors.planning import plan_for_instrument, plan_for_job
from tests.factories import make_inspection, make_instrument, make_ready_instrument
from tests.repairs.makers import STUCK, make_job, make_school_bench
from tests.repairs.money_makers import make_order, make_refusal, make_returned_order, make_sent_order

pytestmark = pytest.mark.django_db
DENT = ("bell", "dent", "severe")


def outlook_of(school, instrument: Instrument) -> Outlook:
    return outlooks_of(school, [Instrument.objects.get(pk=instrument.pk)])[instrument.pk]


def make_stuck(school, actor) -> Instrument:
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK], actor=actor)
    return Instrument.objects.get(pk=instrument.pk)


def test_hours_and_parts_are_those_of_the_benchs_plan(school, tech):
    bench = make_school_bench(school)
    instrument = make_stuck(school, tech)
    found = outlook_of(school, instrument)
    taken = plan_for_instrument(instrument).taken
    assert found.bench == bench.code
    assert 0 <= float(found.here.hours) * 60 - taken.attended_minutes.p80 < 0.6  # rounded up to a hundredth of an hour
    assert found.here.shop_amount == round(Decimal(str(taken.outside_cost.p80)), 2)
    assert found.here.days >= taken.elapsed_days.p80


def test_a_shop_is_asked_for_all_of_it(school, tech):
    make_school_bench(school)
    found = outlook_of(school, make_stuck(school, tech))
    assert (found.outside.hours, found.outside.parts_amount) == (0, 0)
    assert found.outside.shop_amount > 0


def test_an_open_job_is_planned_at_its_own_bench_as_it_stands(school, tech):
    job = make_job(school=school, actor=tech)
    found = outlook_of(school, job.instrument)
    assert (found.job, found.bench, found.outside) == (job, job.bench.code, None)
    assert float(found.here.hours) * 60 == pytest.approx(plan_for_job(job).taken.attended_minutes.p80, abs=0.6)


@pytest.mark.parametrize("make", [make_order, make_sent_order])
def test_what_a_shop_was_asked_about_is_that_order(make):
    order = make()
    found = outlook_of(order.instrument.school, order.instrument)
    assert (found.order, found.here, found.outside) == (order, None, None)


def test_an_order_without_a_figure_has_the_price_that_a_shop_would_ask(school, tech):
    instrument = make_stuck(school, tech)
    before = outlook_of(school, instrument).outside
    order = make_order(instrument=instrument, expected_high_amount=None)
    found = outlook_of(school, instrument)
    assert (found.order, found.here, found.outside) == (order, None, before)


def test_what_nobody_has_inspected_has_no_way(school):
    assert outlook_of(school, make_instrument(school=school)) == Outlook()


def test_a_refusal_to_spend_is_said(school, tech):
    refusal = make_refusal()
    assert outlook_of(refusal.instrument.school, refusal.instrument).is_refused
    assert not outlook_of(school, make_stuck(school, tech)).is_refused


def test_many_cost_as_many_queries_as_one(school, tech):
    rows = [make_stuck(school, tech)]
    outlooks_of(school, rows)
    with CaptureQueriesContext(connection) as one:
        outlooks_of(school, rows)
    rows += [make_stuck(school, tech) for _ in range(4)] + [make_ready_instrument(school=school)]
    with CaptureQueriesContext(connection) as many:
        outlooks_of(school, rows)
    assert len(many) <= len(one)


def test_a_shop_takes_as_long_as_it_has_taken():
    assert shop_days() is None
    make_returned_order(days=8)
    make_returned_order(days=12)
    assert shop_days() == 10
