from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact


def test_a_fact_is_a_value():
    fact = FindingFact(part="bell", fault="dent", severity=Severity.LIGHT)
    assert fact == FindingFact("bell", "dent", Severity.LIGHT)
    assert (
        len({fact, FindingFact("bell", "dent", Severity.LIGHT), FindingFact("bell", "dent", Severity.LIGHT, "bow")})
        == 2
    )
    with pytest.raises(FrozenInstanceError):
        fact.part = "leadpipe"


def test_facts_stand_in_order_of_part_then_fault():
    dent, crack = (FindingFact("bell", fault, Severity.LIGHT) for fault in ("dent", "crack"))
    stuck = FindingFact("valve_1", "stuck", Severity.LIGHT)
    assert sorted([stuck, dent, crack]) == [crack, dent, stuck]
