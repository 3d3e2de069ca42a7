"""Worth against an independent payment function and the trade's rules of thumb."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy_financial as npf
import pytest

from repairs.rules.effort import Estimate
from repairs.rules.worth import (
    Answer,
    Worth,
    WorthFacts,
    is_within_refusal,
    judge_worth,
    real_rate,
)

SETTINGS = {
    "interest_rate": "0.05", "price_growth": "0.02", "repair_limit_needed_now": "0.65", "near_limit_share": "0.2", "cumulative_repair_limit": "0.75",
    "same_part_repairs": "3", "same_part_months": "18", "approval_amount": "150", "residual_share": "0",
}  # fmt: skip


def judged(facts: WorthFacts, **settings: str) -> Worth:
    return judge_worth(facts, settings={code: Decimal(figure) for code, figure in (SETTINGS | settings).items()})


def make_facts(**overrides: Any) -> WorthFacts:
    values: dict[str, Any] = {
        "repair_limit": Decimal("0.40"),
        "replacement_amount": Decimal(500),
        "value_amount": Decimal(250),
        "life_years": 15,
        "years_left": 8,
        "upkeep_amount": Decimal(25),
        "cost": Estimate(p50=40, p80=60, mean=45),
        "here_mean": 45.0,
        "outside_mean": 0.0,
        "is_doable_here": True,
        "is_for_shop": False,
    }
    return WorthFacts(**(values | overrides))


def estimate(amount: float) -> Estimate:
    return Estimate(p50=amount, p80=amount, mean=amount)


def test_a_cheap_repair_is_made_here_and_shows_its_arithmetic():
    found = judged(make_facts())
    assert found.answer is Answer.REPAIR_HERE
    assert found.cost_p80_amount == Decimal("60.00")
    assert found.keep_per_year_amount < found.replace_per_year_amount
    assert found.rules[0].words == "$60 against 40% of $500 for a new one = $200 (the share set for this kind)"
    assert {line.label: line.amount for line in found.lines}["Limit"] == Decimal("200.00")
    assert found.approval_because == ""


def test_the_yearly_costs_are_those_of_an_independent_reckoning():
    found = judged(make_facts(), interest_rate="0.05", price_growth="0")
    assert float(found.keep_per_year_amount) == pytest.approx(25 - float(npf.pmt(0.05, 8, 60)), abs=0.01)
    assert float(found.replace_per_year_amount) == pytest.approx(25 - float(npf.pmt(0.05, 15, 500)), abs=0.01)


def test_what_only_a_shop_can_do_goes_to_the_shop():
    found = judged(make_facts(is_doable_here=False, is_for_shop=True, outside_mean=30.0))
    assert (found.answer, found.cost_p80_amount) == (Answer.SEND_OUT, Decimal("60.00"))


@pytest.mark.parametrize(
    ("overrides", "code"),
    [
        ({"cost": estimate(240.01), "value_amount": Decimal(500)}, "share_of_value"),
        ({"spent_this_year_amount": Decimal(320)}, "cumulative"),
        ({"same_part_repairs_before": 2}, "same_part"),
        ({"has_cracked_casing": True}, "cracked_casing"),
        ({"rotted_tubes": 2}, "rot"),
    ],
    ids=["beyond the share", "too much this year", "third time", "cracked casing", "two tubes rotted"],
)
def test_a_rule_of_thumb_ends_it(overrides, code):
    found = judged(make_facts(**overrides))
    assert found.answer is Answer.RETIRE
    assert [rule.code for rule in found.rules if not rule.says_repair] == [code]
    assert next(rule for rule in found.rules if rule.code == code).words in found.because


@pytest.mark.parametrize(
    ("parts", "cost", "spent", "answer"),
    [
        ("0", "10", "0", True),
        ("0.50", "10", "0", False),  # a part that costs money
        ("0", "150", "0", True),
        ("0", "50.01", "100", False),  # with what the job has cost before, above the limit
    ],
)
def test_after_a_refusal_only_hand_work_within_the_limit_is_begun(parts, cost, spent, answer):
    figures = {"parts_amount": Decimal(parts), "cost_amount": Decimal(cost), "spent_amount": Decimal(spent)}
    assert is_within_refusal(**figures, limit=Decimal(150)) is answer


def test_an_instrument_with_useful_parts_is_kept_for_them():
    found = judged(make_facts(has_cracked_casing=True, parts_value_amount=Decimal(40)))
    assert found.answer is Answer.KEEP_FOR_PARTS


def test_a_matching_casing_in_hand_saves_a_cracked_one():
    found = judged(make_facts(has_cracked_casing=True, has_matching_casing=True))
    assert found.answer is Answer.REPAIR_HERE


def test_one_rotted_tube_can_be_replaced():
    assert judged(make_facts(rotted_tubes=1)).answer is Answer.REPAIR_HERE


def test_need_now_raises_the_limit_and_asks_for_a_name():
    waiting = make_facts(cost=estimate(300), years_left=15, is_student_waiting=True)
    assert judged(make_facts(cost=estimate(300), years_left=15)).answer is Answer.RETIRE
    found = judged(waiting)
    assert found.answer is Answer.REPAIR_HERE
    assert "only because a student waits" in found.approval_because


def test_need_now_counts_only_while_no_other_is_free():
    found = judged(make_facts(cost=estimate(300), years_left=15, is_student_waiting=True, is_other_free=True))
    assert found.answer is Answer.RETIRE


def test_an_old_instrument_that_costs_more_a_year_than_a_new_one_goes():
    found = judged(make_facts(cost=estimate(90), years_left=1))
    assert found.answer is Answer.RETIRE
    assert found.because.startswith("keeping costs $")


def test_a_large_repair_needs_approval():
    found = judged(make_facts(value_amount=Decimal(2000), replacement_amount=Decimal(4000), cost=estimate(400)))
    assert (found.answer, found.approval_because) == (Answer.REPAIR_HERE, "above $150")


def test_what_nobody_can_do_is_not_repaired():
    found = judged(make_facts(is_doable_here=False))
    assert (found.answer, found.because) == (Answer.RETIRE, "neither this bench nor a shop can do it")


@pytest.mark.parametrize(("cost", "because"), [(150, ""), (150.01, "above $150")])
def test_approval_is_asked_above_the_amount_and_not_at_it(cost, because):
    facts = make_facts(value_amount=Decimal(2000), replacement_amount=Decimal(4000), cost=estimate(cost))
    assert judged(facts).approval_because == because


def test_interest_less_growth_of_prices_is_the_real_rate():
    """Fisher's equation in any finance text: 5% while prices grow 2% is 2.94% in goods."""
    assert float(real_rate(interest=Decimal("0.05"), growth=Decimal("0.02"))) == pytest.approx(0.0294, abs=0.00005)
    assert real_rate(interest=Decimal("0.03"), growth=Decimal("0.03")) == 0


def test_unequal_lives_are_compared_in_dollars_of_today():
    """The same as a chain of purchases without end: each at the price of its day, discounted at interest (any finance text)."""
    found = judged(make_facts(parts_value_amount=Decimal(40)), residual_share="0.1")

    def endless(first_cost: float, years: int, salvage: float = 0.0) -> float:
        """Return what a chain costs a year in dollars of today: its present value as a growing perpetuity."""
        chain = 0.0
        for nth in range(4000 // years):
            at, sold = nth * years, (nth + 1) * years
            chain += first_cost * 1.02**at / 1.05**at - salvage * 1.02**sold / 1.05**sold
        return chain * (1.05 / 1.02 - 1.0)

    assert float(found.keep_per_year_amount) == pytest.approx(25 + endless(60 + 40, 8), abs=0.01)
    assert float(found.replace_per_year_amount) == pytest.approx(25 + endless(500, 15, salvage=50), abs=0.01)


def test_a_few_years_do_not_look_cheap_because_the_next_one_costs_more():
    """$400 for 12 years is what $500 is for 15; at nominal interest the shorter life would look dearer by itself."""
    found = judged(make_facts(cost=estimate(400), years_left=12), interest_rate="0.06", price_growth="0.06")
    assert found.keep_per_year_amount == found.replace_per_year_amount == Decimal("58.33")


def test_one_four_in_five_stands_for_bench_and_shop_together():
    """The bench's and the shop's own would add up to more: not both turn out dear."""
    found = judged(make_facts(cost=Estimate(p50=62, p80=88, mean=67), here_mean=45.0, outside_mean=22.0))
    assert (found.cost_p50_amount, found.cost_p80_amount) == (Decimal("62.00"), Decimal("88.00"))
    amounts = {line.label: line.amount for line in found.lines}
    assert (amounts["At this bench"], amounts["At a shop"]) == (Decimal("45.00"), Decimal("22.00"))
    assert sum("four times in five" in line.label + line.words for line in found.lines) == 1


def test_the_arithmetic_names_years_and_factors():
    """At 4% over 1%, 2.97% in goods: by numpy-financial's pmt .1423 over 8 years and .0836 over 15."""
    assert [-round(float(npf.pmt(1.04 / 1.01 - 1, years, 1)), 4) for years in (8, 15)] == [0.1423, 0.0836]
    found = judged(make_facts(parts_value_amount=Decimal(40)), interest_rate="0.04", price_growth="0.01")
    words = {line.label: line.words for line in found.lines}
    rest = "interest less 1.0% growth of prices"
    assert words["Keeping, a year"] == (
        f"$60 and $40 of parts given up, over 8 years at 4.0% {rest} (0.1423 a year), and upkeep of $25, in dollars of today"
    )
    assert words["Replacing, a year"] == (
        f"$500 over 15 years at 4.0% {rest} (0.0836 a year), less what is left then, and upkeep of $25, in dollars of today"
    )


def test_a_near_miss_of_the_share_does_not_outvote_the_year():
    """35% of $195 is $68.25: $75 is a little above it, at a yearly cost well under that of a new one."""
    facts = make_facts(
        repair_limit=Decimal("0.35"), replacement_amount=Decimal(195), cost=estimate(75), years_left=10, life_years=4
    )
    found = judged(facts)
    assert found.keep_per_year_amount < found.replace_per_year_amount
    assert (found.answer, found.approval_because) == (Answer.REPAIR_HERE, "")
    assert found.rules[0].words.endswith("; so little above it that the cost per year decides)")
    assert found.because.startswith("keeping costs $")


@pytest.mark.parametrize(
    ("cost", "years_left", "says_repair"),
    [(200, 1, True), (200.01, 1, False), (240, 15, True), (240.01, 15, False)],
    ids=["at the share", "above it and dearer a year", "a fifth above it and cheaper a year", "more than a fifth"],
)
def test_how_near_a_near_miss_is(cost, years_left, says_repair):
    """40% of $500 is $200; a fifth more is $240."""
    found = judged(make_facts(cost=estimate(cost), years_left=years_left))
    assert found.rules[0].says_repair is says_repair


def test_the_share_is_of_a_new_one_however_old_it_is():
    old = judged(make_facts(cost=estimate(150), value_amount=Decimal(100)))
    assert (old.answer, old.value_amount) == (Answer.REPAIR_HERE, Decimal(100))


def test_a_waiting_student_outvotes_the_year():
    found = judged(make_facts(cost=estimate(90), years_left=1, is_student_waiting=True))
    assert (found.answer, found.approval_because) == (Answer.REPAIR_HERE, "")
    assert found.because.startswith("a student waits and no other is free, though")


@pytest.mark.parametrize(
    ("overrides", "code", "says_repair"),
    [
        ({"cost": estimate(200)}, "share_of_value", True),
        ({"spent_this_year_amount": Decimal(315)}, "cumulative", True),
        ({"spent_this_year_amount": Decimal("315.01")}, "cumulative", False),
        ({"same_part_repairs_before": 1}, "same_part", True),
    ],
    ids=["just the share", "just the year's limit", "a cent above it", "second time"],
)
def test_a_limit_itself_is_still_within(overrides, code, says_repair):
    """40% of $500 is $200; 75% of $500 is $375, of which this repair takes $60."""
    found = judged(make_facts(**overrides))
    assert next(rule for rule in found.rules if rule.code == code).says_repair is says_repair


def test_half_a_cent_is_rounded_up_as_on_an_invoice():
    """45% of $500.50 is $225.225. Common practice, no source."""
    found = judged(make_facts(replacement_amount=Decimal("500.50"), repair_limit=Decimal("0.45"), here_mean=45.125))
    assert "= $225.23 " in found.rules[0].words
    assert next(line.amount for line in found.lines if line.label == "At this bench") == Decimal("45.13")


def test_repairs_of_a_part_are_counted_over_the_districts_own_months():
    (rule,) = (one for one in judged(make_facts(same_part_repairs_before=1)).rules if one.code == "same_part")
    assert "repair 2 of the same part in 18 months" in rule.words


def test_a_first_repair_of_a_part_needs_no_rule():
    assert [rule.code for rule in judged(make_facts()).rules] == ["share_of_value", "cumulative"]


def test_a_repair_near_the_share_needs_no_name_and_one_beyond_it_does():
    """40% of $500 and a fifth: up to $240 the kind's own share holds; a cent more is repaired only because a student waits."""
    facts = {"years_left": 15, "is_student_waiting": True}
    assert judged(make_facts(cost=estimate(240), **facts), approval_amount="1000").approval_because == ""
    above = judged(make_facts(cost=estimate(240.01), **facts), approval_amount="1000")
    assert above.approval_because == "above 40% of a new one's price: only because a student waits"
