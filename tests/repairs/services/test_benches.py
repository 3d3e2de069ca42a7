"""A bench's profile: what is kept, and what is refused without a trace."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from inventory.selectors.figures import enter
from inventory.services.figures import set_figures
from repairs.models import Attempt, Bench, StockItem
from repairs.selectors.worth import spent_in
from repairs.services.benches import bring_back_bench, retire_bench, set_up_bench
from repairs.services.jobs import open_job
from repairs.services.stock import add_stock_item, bring_back_stock_item, retire_stock_item
from tests.factories import NOW, TODAY, make_bench, make_district, make_school, new_nonce
from tests.opening import differences
from tests.repairs.makers import make_job, make_school_bench, state_of_rows
from tests.repairs.money_makers import make_item, make_stuck_instrument


def profile(**overrides: Any) -> dict[str, Any]:
    return {
        "code": "north",
        "name": "North shop",
        "tools": ["tub", "snake"],
        "methods": ["free_valve_slide"],
        "has_torch": False,
        "has_chemicals": True,
        "rate_amount": Decimal("31.50"),
        "at": NOW,
    } | overrides


def test_a_bench_is_set_up_and_told(school, tech):
    bench = set_up_bench(school=school, actor=tech, **profile())
    assert bench.tools == ["snake", "tub"]
    assert Event.objects.filter(act="bench_set_up").count() == 1


RATE = "bench_rate_amount"


def rates(*values):
    """The district's rate, each value a week after the one before."""
    make_district()
    for number, value in enumerate(values):
        day = TODAY + timedelta(weeks=number)
        set_figures(values={RATE: value}, effective_on=day, actor=None, at=NOW)


def test_a_bench_without_a_rate_of_its_own_follows_the_districts_from_its_day_on(school, tech):
    rates("40", "45")
    bench = set_up_bench(school=school, actor=tech, **profile(rate_amount=None))
    own = set_up_bench(school=school, actor=tech, **profile(code="south"))
    met = []
    for days in (-1, 0, 7):
        enter(NOW + timedelta(days=days))
        met.append((bench.fact.rate_amount, own.fact.rate_amount))
    assert met == [(30, Decimal("31.50")), (40, Decimal("31.50")), (45, Decimal("31.50"))]
    assert differences()[1] == []


def test_a_bench_goes_back_to_the_districts_rate_and_the_log_says_so(school, tech):
    set_up_bench(school=school, actor=tech, **profile())
    bench = set_up_bench(school=school, actor=tech, **profile(rate_amount=None))
    event = Event.objects.filter(act="bench_set_up").latest("number")
    assert (event.before["rate"], event.after["rate"], bench.rate) == ("31.50", None, 30)
    assert differences()[1] == []


def test_what_was_done_before_a_new_rate_costs_what_it_did(school, tech):
    rates("40", "46")
    job = make_job(school=school, actor=tech, bench=make_school_bench(school, rate_amount=None))
    for days in (0, 8):
        Attempt.objects.create(
            job=job, nonce=new_nonce(), step_key="x", method="x", outcome="done", minutes=30,
            ended_at=NOW + timedelta(days=days), actor=tech,
        )  # fmt: skip
    for days in (0, 8, 30):
        enter(NOW + timedelta(days=days))
        assert spent_in(job).bench_amount == 20 + 23


def test_the_same_code_changes_the_bench_that_is_there(school, tech):
    set_up_bench(school=school, actor=tech, **profile())
    changed = set_up_bench(school=school, actor=tech, **profile(has_torch=True, tools=[]))
    assert changed.has_torch
    assert Bench.objects.count() == 1


@pytest.mark.parametrize(
    "wrong", [{"tools": ["laser"]}, {"rate_amount": Decimal(-1)}, {"name": " "}], ids=["tool", "rate", "name"]
)
def test_what_makes_no_bench_is_refused_and_nothing_written(school, tech, wrong):
    set_up_bench(school=school, actor=tech, **profile())
    before = state_of_rows()
    with pytest.raises(RefusedError):
        set_up_bench(school=school, actor=tech, **profile(**wrong))
    assert state_of_rows() == before


def test_another_schools_code_is_refused(school, tech):
    set_up_bench(school=make_school(), actor=tech, **profile())
    before = state_of_rows()
    with pytest.raises(RefusedError):
        set_up_bench(school=school, actor=tech, **profile())
    assert state_of_rows() == before


def test_a_word_of_the_addresses_is_no_code_and_a_bench_that_has_one_is_still_changed(school, tech):
    before = state_of_rows()
    with pytest.raises(RefusedError, match="own addresses use “add”"):
        set_up_bench(school=school, actor=tech, **profile(code="add"))
    assert state_of_rows() == before
    make_bench(school=school, code="add")
    assert set_up_bench(school=school, actor=tech, **profile(code="add")).name == "North shop"


def test_a_bench_in_use_is_not_retired_and_the_refusal_says_what_is_in_the_way(school, tech):
    job = make_job(school=school)
    make_item(bench=job.bench, quantity="2")
    before = state_of_rows()
    with pytest.raises(RefusedError) as refusal:
        retire_bench(bench=job.bench, actor=tech, at=NOW)
    assert job.instrument.asset_number in str(refusal.value)
    assert "count to 0 or move what is in stock: valve oil" in str(refusal.value)
    assert state_of_rows() == before


def test_a_retired_bench_is_offered_nothing_and_comes_back_with_what_it_kept(school, tech):
    bench, instrument = make_bench(school=school, name="Corner"), make_stuck_instrument(school=school)
    item, gone = make_item(bench=bench), make_item(bench=bench, code="pad")
    retire_stock_item(item=gone, actor=tech, at=NOW - timedelta(days=1))
    for _ in range(2):
        retire_bench(bench=bench, actor=tech, at=NOW)
    for act in (
        lambda: open_job(instrument=instrument, bench=bench, actor=tech, at=NOW),
        lambda: add_stock_item(bench=bench, code="slide_grease", actor=tech, at=NOW),
        lambda: bring_back_stock_item(item=item, actor=tech, at=NOW),
    ):
        with pytest.raises(RefusedError, match="retired"):
            act()
    assert not StockItem.objects.in_use().exists()
    for _ in range(2):
        bring_back_bench(bench=bench, actor=tech, at=NOW + timedelta(days=1))
    assert list(StockItem.objects.in_use()) == [item], "what was retired by itself stays so"
    open_job(instrument=instrument, bench=bench, actor=tech, at=NOW)
    assert Event.objects.filter(act__in=["bench_retired", "bench_brought_back"]).count() == 2
