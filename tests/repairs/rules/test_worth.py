"""Worth against the textbook's curve, an independent payment function, and the trade's rules of thumb."""

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
    capital_recovery,
    equivalent_annual_cost,
    judge_worth,
)

# Newnan, Eschenbach and Lavelle, Engineering Economic Analysis, ch. 13, Example 13-1: $7,500, no salvage, maintenance 0 then
# 900 more each year, operation 500 then 400 more each year, 8%. Printed: least at 4 years, $4,589.
YEARLY = [900 * year + 500 + 400 * year for year in range(8)]
CURVE = [8600.00, 5330.77, 4643.62, 4589.55, 4778.84, 5081.62, 5442.31, 5833.19]


def cost_curve() -> list[float]:
    return [
        equivalent_annual_cost(first_cost=7500, yearly_costs=YEARLY[:years], rate=0.08)
        for years in range(1, len(YEARLY) + 1)
    ]


def test_the_economic_life_is_the_textbook_s():
    found = cost_curve()
    assert found.index(min(found)) + 1 == 4
    assert min(found) == pytest.approx(4589, abs=1)


def test_the_whole_curve_is_right_within_a_dollar():
    assert cost_curve() == pytest.approx(CURVE, abs=1)


@pytest.mark.parametrize("years", [1, 3, 10, 25])
@pytest.mark.parametrize("rate", [0.0, 0.03, 0.08])
def test_spreading_a_cost_is_what_a_loan_payment_is(years, rate):
    """Against numpy-financial's pmt."""
    assert capital_recovery(rate=rate, years=years) == pytest.approx(-float(npf.pmt(rate, years, 1)))


def test_salvage_lowers_the_yearly_cost_by_its_sinking_fund():
    plain = equivalent_annual_cost(first_cost=1000, yearly_costs=[0] * 10, rate=0.05)
    kept = equivalent_annual_cost(first_cost=1000, yearly_costs=[0] * 10, rate=0.05, salvage=200)
    assert plain - kept == pytest.approx(-float(npf.pmt(0.05, 10, 0, 200)))


def test_no_years_are_no_span():
    with pytest.raises(ValueError, match="no span"):
        capital_recovery(rate=0.05, years=0)


SETTINGS = {
    "interest_rate": "0.03", "price_growth": "0.03", "repair_limit_needed_now": "0.65", "cumulative_repair_limit": "0.75",
    "same_part_repairs": "3", "approval_amount": "150", "residual_share": "0",
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
        "cost_here": Estimate(p50=40, p80=60, mean=45),
        "cost_outside": Estimate(p50=0, p80=0, mean=0),
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
    assert found.rules[0].words == "$60 against 40% of $250 = $100 (the share set for this kind)"
    assert {line.label: line.amount for line in found.lines}["Limit"] == Decimal("100.00")
    assert found.approval_because == ""


def test_the_yearly_costs_are_those_of_an_independent_reckoning():
    found = judged(make_facts(), interest_rate="0.05", price_growth="0")
    assert float(found.keep_per_year_amount) == pytest.approx(25 - float(npf.pmt(0.05, 8, 60)), abs=0.01)
    assert float(found.replace_per_year_amount) == pytest.approx(25 - float(npf.pmt(0.05, 15, 500)), abs=0.01)


def test_what_only_a_shop_can_do_goes_to_the_shop():
    found = judged(make_facts(is_doable_here=False, is_for_shop=True, cost_outside=estimate(30)))
    assert (found.answer, found.cost_p80_amount) == (Answer.SEND_OUT, Decimal("90.00"))


@pytest.mark.parametrize(
    ("overrides", "code"),
    [
        ({"cost_here": estimate(101)}, "share_of_value"),
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


def test_a_horn_with_useful_parts_is_kept_for_them():
    found = judged(make_facts(has_cracked_casing=True, parts_value_amount=Decimal(40)))
    assert found.answer is Answer.KEEP_FOR_PARTS


def test_a_matching_casing_in_hand_saves_a_cracked_one():
    found = judged(make_facts(has_cracked_casing=True, has_matching_casing=True))
    assert found.answer is Answer.REPAIR_HERE


def test_one_rotted_tube_can_be_replaced():
    assert judged(make_facts(rotted_tubes=1)).answer is Answer.REPAIR_HERE


def test_need_now_raises_the_limit_and_asks_for_a_name():
    waiting = make_facts(cost_here=estimate(150), is_student_waiting=True)
    assert judged(make_facts(cost_here=estimate(150))).answer is Answer.RETIRE
    found = judged(waiting)
    assert found.answer is Answer.REPAIR_HERE
    assert "only because a student waits" in found.approval_because


def test_need_now_counts_only_while_no_other_is_free():
    found = judged(make_facts(cost_here=estimate(150), is_student_waiting=True, is_other_free=True))
    assert found.answer is Answer.RETIRE


def test_an_old_horn_that_costs_more_a_year_than_a_new_one_goes():
    found = judged(make_facts(cost_here=estimate(90), years_left=1))
    assert found.answer is Answer.RETIRE
    assert found.because.startswith("keeping costs $")


def test_a_large_repair_needs_approval():
    found = judged(make_facts(value_amount=Decimal(2000), replacement_amount=Decimal(4000), cost_here=estimate(400)))
    assert (found.answer, found.approval_because) == (Answer.REPAIR_HERE, "above $150")


def test_what_nobody_can_do_is_not_repaired():
    found = judged(make_facts(is_doable_here=False))
    assert (found.answer, found.because) == (Answer.RETIRE, "neither this bench nor a shop can do it")


@pytest.mark.parametrize(("cost", "because"), [(150, ""), (150.01, "above $150")])
def test_approval_is_asked_above_the_amount_and_not_at_it(cost, because):
    facts = make_facts(value_amount=Decimal(2000), replacement_amount=Decimal(4000), cost_here=estimate(cost))
    assert judged(facts).approval_because == because


def test_upkeep_and_salvage_grow_with_prices():
    """Upkeep as a growing annuity, C [1 - ((1 + g) / (1 + i))^n] / (i - g), paid at each year's end (any finance text)."""
    found = judged(
        make_facts(parts_value_amount=Decimal(40)), interest_rate="0.05", price_growth="0.02", residual_share="0.1"
    )

    def upkeep(years: int) -> float:
        return 25 * (1 - (1.02 / 1.05) ** years) / 0.03

    keep = 60 + 40 + upkeep(8)
    replace = 500 + upkeep(15) - 500 * 0.1 * 1.02**15 / 1.05**15
    assert float(found.keep_per_year_amount) == pytest.approx(-float(npf.pmt(0.05, 8, keep)), abs=0.005)
    assert float(found.replace_per_year_amount) == pytest.approx(-float(npf.pmt(0.05, 15, replace)), abs=0.005)


def test_a_shop_s_half_and_four_fifths_are_kept_apart():
    facts = make_facts(cost_here=Estimate(p50=40, p80=60, mean=45), cost_outside=Estimate(p50=20, p80=35, mean=22))
    found = judged(facts)
    assert (found.cost_p50_amount, found.cost_p80_amount) == (Decimal("60.00"), Decimal("95.00"))
    amounts = {line.label: line.amount for line in found.lines}
    assert (amounts["At this bench"], amounts["At a shop"]) == (Decimal("60.00"), Decimal("35.00"))


def test_the_arithmetic_names_years_and_factors():
    """(A/P, 3%, 8) = .1425 and (A/P, 3%, 15) = .0838 in the tables of any engineering economics text."""
    words = {line.label: line.words for line in judged(make_facts(parts_value_amount=Decimal(40))).lines}
    assert words["Keeping, a year"] == (
        "$60 and $40 of parts given up, over 8 years at 3.0% interest (0.1425 a year), and upkeep of $25 growing 3.0% a year"
    )
    assert words["Replacing, a year"] == (
        "$500 over 15 years at 3.0% interest (0.0838 a year), less what is left then, and upkeep of $25 growing 3.0% a year"
    )


@pytest.mark.parametrize(
    ("overrides", "code", "says_repair"),
    [
        ({"cost_here": estimate(100)}, "share_of_value", True),
        ({"spent_this_year_amount": Decimal(315)}, "cumulative", True),
        ({"spent_this_year_amount": Decimal("315.01")}, "cumulative", False),
        ({"same_part_repairs_before": 1}, "same_part", True),
    ],
    ids=["just the share", "just the year's limit", "a cent above it", "second time"],
)
def test_a_limit_itself_is_still_within(overrides, code, says_repair):
    """40% of $250 is $100; 75% of $500 is $375, of which this repair takes $60."""
    found = judged(make_facts(**overrides))
    assert next(rule for rule in found.rules if rule.code == code).says_repair is says_repair


def test_a_first_repair_of_a_part_needs_no_rule():
    assert [rule.code for rule in judged(make_facts()).rules] == ["share_of_value", "cumulative"]


def test_a_repair_at_just_the_share_of_the_value_needs_no_approval():
    """40% of $250: at $100 the kind's own share holds; a cent more is repaired only because a student waits."""
    assert judged(make_facts(cost_here=estimate(100))).approval_because == ""
    above = judged(make_facts(cost_here=estimate(100.01), is_student_waiting=True))
    assert above.approval_because == "above 40% of its value: only because a student waits"
