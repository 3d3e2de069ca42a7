"""The season's questions on cases small enough to answer by hand."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Effect, Severity
from repairs.profiles import bench_profile
from repairs.rules.season import Bill, Repaired, came_back, only_tools_lack, steps_to_unsafe, tool_cases

TRADE = catalog()
SPOT = ("7", "piston", "2", "valve_stuck")


def make_repaired(on: date, spot: tuple[str, str, str, str] = SPOT) -> Repaired:
    return Repaired(spot=spot, on=on, method="oil_piston", job="job:1")


@pytest.mark.parametrize(
    ("again", "count"),
    [(date(2026, 3, 1), 1), (date(2026, 5, 30), 1), (date(2026, 5, 31), 0), (date(2026, 2, 28), 0)],
)
def test_ninety_days_count_from_the_repair_to_the_day(again, count):
    """March 1 and ninety days: May 30 is the last day."""
    found = came_back([make_repaired(date(2026, 3, 1))], found=[(SPOT, again)], within_days=90)
    assert len(found) == count


def test_another_place_on_the_same_part_is_another_fault():
    other = ("7", "piston", "3", "valve_stuck")
    assert came_back([make_repaired(date(2026, 3, 1))], found=[(other, date(2026, 3, 9))], within_days=90) == ()


def test_a_repair_that_failed_twice_counts_once_with_its_first_day():
    found = [(SPOT, date(2026, 4, 2)), (SPOT, date(2026, 3, 20))]
    (back,) = came_back([make_repaired(date(2026, 3, 1))], found=found, within_days=90)
    assert back.days == 19


SCHOOL, FULL = (bench_profile(code, catalog=TRADE) for code in ("school", "full"))


def test_a_bench_that_has_everything_lacks_no_tool():
    method = next(
        one for one in TRADE.methods.values() if one.tools and set(one.tools) <= FULL.tools and one.skill == "basic"
    )
    assert only_tools_lack(method, benches=[FULL]) == frozenset()


def test_the_tools_that_lack_are_named_for_the_bench_that_lacks_fewest():
    method = next(one for one in TRADE.methods.values() if one.skill == "basic" and one.tools and "flame" not in one.tags
                  and "chemical" not in one.tags and one.setup != "torch" and "torch" not in one.tools)  # fmt: skip
    bare = type(SCHOOL)(code="bare", tools=frozenset(), methods=frozenset(), has_torch=False, has_chemicals=False,
                        rate_amount=Decimal(20))  # fmt: skip
    assert only_tools_lack(method, benches=[bare]) == frozenset(method.tools)
    handy = type(SCHOOL)(code="handy", tools=frozenset(method.tools[1:]), methods=frozenset(), has_torch=False,
                         has_chemicals=False, rate_amount=Decimal(20))  # fmt: skip
    assert only_tools_lack(method, benches=[bare, handy]) == frozenset(method.tools[:1])


def test_training_and_a_torch_are_no_tools():
    specialist = next(one for one in TRADE.methods.values() if one.skill == "specialist")
    flame = next(one for one in TRADE.methods.values() if "flame" in one.tags)
    assert only_tools_lack(specialist, benches=[SCHOOL]) is None
    assert SCHOOL.has_torch is False
    assert only_tools_lack(flame, benches=[SCHOOL]) is None
    assert only_tools_lack(flame, benches=[]) is None


def make_bill(amount: int, own: int, *tools: str) -> Bill:
    return Bill(method="Work", tools=frozenset(tools), amount=Decimal(amount), own_amount=Decimal(own))


def test_a_tool_is_weighed_with_all_the_bills_it_would_have_saved():
    priced = next(code for code, tool in TRADE.tools.items() if tool.price)
    cases = tool_cases(
        [make_bill(80, 10, priced), make_bill(60, 5, priced), make_bill(20, 5, "no_such_tool")], catalog=TRADE
    )
    first, second = cases
    assert (first.bills_amount, first.saved_amount) == (Decimal(140), Decimal(125))
    assert first.price_amount == TRADE.tools[priced].price
    assert first.left_amount == Decimal(125) - TRADE.tools[priced].price
    assert (second.price_amount, second.left_amount) == (None, None)


def test_a_finding_is_zero_one_or_no_steps_from_unsafe():
    for fault in TRADE.faults.values():
        for severity in Severity:
            steps = steps_to_unsafe(fault=fault.code, severity=severity, role="", catalog=TRADE)
            if Effect.UNSAFE in fault.effects[severity]:
                assert steps == 0
            elif severity is not Severity.SEVERE and Effect.UNSAFE in fault.effects[tuple(Severity)[severity.rank + 1]]:
                assert steps == 1
            else:
                assert steps is None


def test_a_severe_fault_of_a_slide_lock_is_one_step_from_losing_it():
    """Without its lock a slide falls off: the catalog calls that loss unsafe."""
    assert steps_to_unsafe(fault="screw_missing", severity=Severity.SEVERE, role="frame", catalog=TRADE) == 1
    assert steps_to_unsafe(fault="screw_missing", severity=Severity.SEVERE, role="bell", catalog=TRADE) is None
    assert steps_to_unsafe(fault="no_such_fault", severity=Severity.SEVERE, role="frame", catalog=TRADE) is None
