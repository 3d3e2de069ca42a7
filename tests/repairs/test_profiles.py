"""Bench profiles read from a file."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Skill
from repairs.profiles import UnknownBenchError, bench_profile, usual_bench
from tests.catalogs import with_setting


def test_a_school_bench_may_use_no_torch():
    bench = bench_profile("school", catalog=catalog())
    assert not bench.has_torch
    assert "torch" not in bench.tools


def test_a_first_bench_can_do_every_basic_method_but_has_no_torch():
    trade = catalog()
    bench = bench_profile("basic", catalog=trade)
    basic = [method for method in trade.methods.values() if method.skill is Skill.BASIC and not method.ladder]
    assert [method.code for method in basic if not set(method.tools) <= bench.tools | {"torch"}] == []
    assert bench.methods == frozenset()


def test_a_repair_room_has_every_tool_and_is_trained_for_advanced_work():
    trade = catalog()
    bench = bench_profile("full", catalog=trade)
    assert bench.tools == frozenset(trade.tools)
    assert {code for code, one in trade.methods.items() if one.skill is Skill.ADVANCED} <= bench.methods
    assert not {code for code, one in trade.methods.items() if one.skill is Skill.SPECIALIST} & bench.methods


def test_an_unknown_bench_is_refused_with_those_there_are():
    with pytest.raises(UnknownBenchError, match="Known: basic, school, full"):
        bench_profile("attic", catalog=catalog())


def test_where_no_bench_is_set_up_an_hour_costs_what_the_district_says():
    trade = with_setting(catalog(), "bench_rate_amount", 41)
    assert usual_bench(catalog=trade) == replace(bench_profile("school", catalog=trade), rate_amount=Decimal(41))
