"""What can be asked of a plan."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from repairs.rules.facts import Outcome
from repairs.rules.plan.values import AtOnce, Bill, WaitsOn, by_reason
from tests.repairs.rules.small_trade import attempt, finding, plan_of


def test_the_next_step_is_the_first_that_may_be_done_now():
    plan = plan_of(finding("brace", "loose"))
    assert plan.next_step is plan.steps[0]
    assert plan.step("bath").prerequisites == ("take_felts_out",)
    assert plan.step("bath").blocked_because == "first: Take felts out (“Bath” needs it)"


def test_a_step_that_is_not_planned_is_not_found():
    assert plan_of().step("bath") is None


def test_the_tools_of_a_plan_are_those_of_its_steps():
    assert plan_of(finding("brace", "loose")).tools == ("torch", "tub")


def test_a_plan_with_nothing_to_do_has_no_next_step():
    proved = plan_of(attempts=[attempt("play_test", Outcome.DONE)])
    assert (proved.steps, proved.next_step) == ((), None)


def test_a_step_is_ready_once_nothing_comes_before_it():
    felts, bath, *_ = plan_of(finding("brace", "loose")).steps
    assert (felts.waits_on, felts.prerequisites, felts.blocked_because) == ((), (), "")
    assert [one.step_key for one in bath.waits_on] == ["take_felts_out"]


def test_a_refusal_says_each_reason_once():
    bath = plan_of(finding("brace", "loose")).step("bath")
    firsts = [
        WaitsOn(name, name, because)
        for name, because in (("Soak", "it rots"), ("Wipe", "it bends"), ("Pull", "it rots"))
    ]
    assert replace(bath, waits_on=tuple(firsts)).blocked_because == (
        "first: Soak, Pull (it rots); first: Wipe (it bends)"
    )
    assert [because for because, _ in by_reason(firsts)] == ["it rots", "it bends"]


def test_only_hazards_that_ask_for_it_are_acknowledged():
    plan = plan_of(finding("brace", "loose"), finding("water_key", "leak"))
    assert [one.code for one in plan.step("solder_brace:brace").acknowledgements] == ["heat"]
    assert [one.code for one in plan.step("new_cork:water_key").cautions] == ["sharp"]
    assert plan.step("new_cork:water_key").acknowledgements == ()


def test_all_at_once_says_its_arithmetic_the_rule_of_the_trade_and_a_shop_without_minutes():
    told = AtOnce(
        method="pads", say="All pads", each="pads", count=6, one_by_one=Bill(60, Decimal(48)), all_at_once=Bill(0, Decimal(90)),
        from_count=6, because="They are of one age.", is_chosen=True, is_at_shop=True,
    )  # fmt: skip
    assert told.sentence == (
        "6 pads one by one: 60 min and $48. All pads at once at a shop: $90."
        " With 6 or more bad pads, the trade does them all: They are of one age."
    )
