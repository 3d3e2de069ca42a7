"""What a repair costs at the usual bench, whatever any bench has learned."""

from __future__ import annotations

from decimal import Decimal

import pytest

from core.money import cents
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import usual_bench
from repairs.rules.plan import plan_work
from repairs.selectors.standard_cost import standard_cost

SEIZED = FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.SEVERE)
DENT = FindingFact(part="bell", fault="dent", severity=Severity.LIGHT)


def cost(*findings):
    return standard_cost("trumpet", {}, findings, trade=catalog())


def test_nothing_found_costs_nothing():
    assert cost() == 0


def test_what_only_mars_the_looks_costs_nothing():
    assert cost(FindingFact(part="bell", fault="lacquer_wear", severity=Severity.LIGHT)) == 0


def test_a_repair_costs_what_its_plan_at_the_usual_bench_stays_within():
    trade = catalog()
    plan = plan_work(
        kind=trade.kind("trumpet").built({}), catalog=trade, findings=[SEIZED], bench=usual_bench(catalog=trade)
    )
    assert cost(SEIZED) == cents(plan.taken.total_cost.p80) > 0


def test_more_faults_never_cost_less():
    assert cost(SEIZED, DENT) >= cost(SEIZED)


@pytest.mark.parametrize("lost", [("no_such_part", "dent"), ("bell", "no_such_fault")])
def test_a_fault_that_the_catalog_has_lost_costs_nothing(lost):
    part, fault = lost
    fact = FindingFact(part=part, fault=fault, severity=Severity.SEVERE)
    assert cost(fact, SEIZED) == cost(SEIZED) != Decimal(0)


def test_a_kind_that_the_catalog_has_lost_costs_nothing():
    assert standard_cost("no_such_kind", {}, (SEIZED,), trade=catalog()) == 0
