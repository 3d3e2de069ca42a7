"""Stock as pages see it: reserved by plans, what is known of fits, what to buy."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.models import Instrument
from repairs.models import Attempt, Job, StockItem
from repairs.selectors.planning import learned
from repairs.selectors.stock import fits_of, free_parts_for, known_codes, needs_of, next_jobs, shopping_for, stock_lines
from repairs.services.stock import use_stock_for
from tests.factories import NOW, TODAY, make_bench, make_instrument, new_nonce
from tests.repairs.makers import LEAKING_CORK, make_job, work_to_the_proof
from tests.repairs.money_makers import make_item, make_refusal
from tests.repairs.money_makers import make_job as make_plain_job

pytestmark = pytest.mark.django_db


def test_every_part_that_a_method_uses_can_be_kept():
    used = {need.code for method in catalog().methods.values() for need in method.parts}
    assert used <= known_codes().keys()
    assert catalog().consumables.keys() <= known_codes().keys()


def test_what_open_plans_will_use_is_reserved_and_is_free_again_when_the_work_is_done(school):
    job = make_job(school=school, findings=[LEAKING_CORK])
    item = make_item(bench=job.bench, code="water_key_corks", quantity="1")
    line = next(line for line in stock_lines(job.bench) if line.item == item)
    assert line.reserved > 0
    planned = line.reserved
    work_to_the_proof(job)
    line = next(line for line in stock_lines(job.bench) if line.item == item)
    assert line.reserved == 0
    assert line.item.quantity == 1 - planned


def test_a_job_that_a_refusal_stops_reserves_nothing_and_is_not_shopped_for(school, tech):
    job = make_job(school=school, findings=[LEAKING_CORK])
    make_item(bench=job.bench, code="water_key_corks", quantity="1")
    make_refusal(instrument=job.instrument, actor=tech)
    assert [line.reserved for line in stock_lines(job.bench)] == [0]
    assert shopping_for(job.bench, jobs=1, at=NOW).list.lines == ()


def test_another_bench_s_jobs_reserve_nothing_here(school):
    make_job(school=school, findings=[LEAKING_CORK])
    other = make_bench(school=school)
    make_item(bench=other, code="water_key_corks", quantity="1")
    assert [line.reserved for line in stock_lines(other)] == [0]


@pytest.mark.parametrize(
    ("quantity", "level", "state"), [("-1", "0", "count"), ("0.01", "0", "short"), ("1", "2", "low"), ("3", "2", "")]
)
def test_a_line_says_what_is_the_matter(school, quantity, level, state):
    job = make_job(school=school, findings=[LEAKING_CORK])
    item = make_item(bench=job.bench, code="water_key_corks", reorder_level=Decimal(level))
    StockItem.objects.filter(pk=item.pk).update(quantity=Decimal(quantity))
    assert [line.state for line in stock_lines(job.bench)] == [state]


def test_the_next_jobs_are_the_first_due(school):
    bench = make_bench(school=school)
    late, soon = make_job(school=school, bench=bench), make_job(school=school, bench=bench, due_on=TODAY)
    assert next_jobs(bench) == [soon, late]
    assert next_jobs(bench, limit=1) == [soon]
    assert needs_of([]) == []


def test_shopping_names_what_the_bench_does_not_even_keep(school):
    job = make_job(school=school, findings=[LEAKING_CORK])
    found = shopping_for(job.bench, jobs=1, at=NOW)
    line = next(line for line in found.list.lines if line.item.key == "water_key_corks")
    assert (line.buy, line.item.on_hand, line.jobs) == (1, 0, (job.instrument.asset_number,))
    assert shopping_for(job.bench, jobs=0, at=NOW).list.lines == ()
    assert shopping_for(job.bench, jobs=-5, at=NOW).jobs == ()


def used_on(item: StockItem, *, model: str, outcome: str) -> None:
    instrument = make_instrument(school=item.bench.school, maker="Larkmoor", model=model)
    job = make_plain_job(instrument=instrument, bench=item.bench)
    attempt = Attempt.objects.create(
        job=job, nonce=new_nonce(), step_key="x", method="x", outcome=outcome, ended_at=NOW, actor=job.opened_by,
        parts_used=[{"code": item.code, "quantity": "1"}],
    )  # fmt: skip
    use_stock_for(attempt=attempt, actor=job.opened_by, at=NOW)


def test_the_shop_learns_which_model_a_part_fits(school):
    item = make_item(bench=make_bench(school=school), code="clarinet_pad_set", quantity="9")
    for model, outcome in (("C1", "done"), ("C1", "done"), ("C2", "not_right")):
        used_on(item, model=model, outcome=outcome)
    assert [(fit.maker, fit.model, fit.good, fit.bad) for fit in fits_of(item)] == [
        ("Larkmoor", "C1", 2, 0),
        ("Larkmoor", "C2", 0, 1),
    ]


def test_a_bottle_of_oil_teaches_nothing_about_fit(school):
    item = make_item(bench=make_bench(school=school), code="valve_oil", quantity="9")
    used_on(item, model="C1", outcome="done")
    assert fits_of(item) == []


def test_lines_cost_the_same_for_one_job_and_for_five(school, django_assert_max_num_queries):
    bench = make_bench(school=school)
    for _ in range(5):
        make_job(school=school, bench=bench, findings=[LEAKING_CORK])
    learned()  # read once, and remembered until the next attempt
    with django_assert_max_num_queries(7):
        stock_lines(bench)


def test_parts_outside_the_catalog_are_offered_the_fitting_ones_first(school, tech):
    job = make_job(school=school, actor=tech)
    Instrument.objects.filter(pk=job.instrument_id).update(maker="Plain Brass Works", model="B2")
    for name, fits, quantity in (("Any", {}, "1"), ("Used up", {"fits_maker": "plain brass works"}, "0")):
        make_item(bench=job.bench, name=name, quantity=quantity, **fits)
    make_item(bench=job.bench, name="Zed", quantity="1", fits_maker="Plain Brass Works")
    make_item(bench=job.bench, name="Zulu", quantity="1", fits_maker="PLAIN BRASS WORKS", fits_model="b2")
    make_item(bench=job.bench, code="valve_oil")
    make_item(name="Of another bench", quantity="1")
    fresh = Job.objects.select_related("instrument").get(pk=job.pk)
    assert [item.name for item in free_parts_for(fresh)] == ["Zulu", "Zed", "Any", "Used up"]
