from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from inventory.catalog.schema import Severity
from inventory.rules.facts import Detail, FindingFact, Owed, owed_on_arrival, read_detail


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


@pytest.mark.parametrize(
    ("text", "detail"),
    [
        ("down", Detail(words=frozenset({"down"}))),
        ("Third slide ring", Detail(words=frozenset({"ring"}))),
        ("pulled 12 mm", Detail(pulled_mm=12)),
        ("out 12.5mm", Detail(pulled_mm=12.5)),
        ("stops at position 4", Detail(position=4)),
        ("Pos. 5", Detail(position=5)),
        ("position 8", Detail()),  # a slide has seven
        ("loose spring", Detail()),  # a spring is no ring
        ("sideways", Detail()),
    ],
)
def test_a_detail_says_what_the_rules_go_by(text, detail):
    assert read_detail(text) == detail


@pytest.mark.parametrize(
    ("acquired_by", "is_imported", "owed"),
    [
        ("bought", False, set()),
        ("bought", True, {Owed.HYGIENE}),
        ("transfer", False, {Owed.HYGIENE}),
        ("gift", False, {Owed.HYGIENE, Owed.FULL}),
        ("", True, {Owed.HYGIENE, Owed.FULL}),
    ],
)
def test_cleaning_is_owed_on_arrival_only_for_what_touches_a_mouth(acquired_by, is_imported, owed):
    assert owed_on_arrival(acquired_by=acquired_by, touches_mouth=True, is_imported=is_imported) == owed
    assert owed_on_arrival(acquired_by=acquired_by, touches_mouth=False, is_imported=is_imported) == set()
