"""A bench's profile: what is kept, and what is refused without a trace."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from repairs.models import Bench, StockItem
from repairs.services.benches import bring_back_bench, retire_bench, set_up_bench
from repairs.services.jobs import open_job
from repairs.services.stock import add_stock_item, bring_back_stock_item, retire_stock_item
from tests.factories import NOW, make_bench, make_school
from tests.repairs.makers import make_job, state_of_rows
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
