"""A bench's profile: what is kept, and what is refused without a trace."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from repairs.models import Bench
from repairs.services.benches import set_up_bench
from tests.factories import NOW, make_bench, make_school
from tests.repairs.makers import state_of_rows


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
