"""What an outcome saved, and what may be done out of order."""

from __future__ import annotations

from decimal import Decimal

import pytest

from repairs.rules.facts import Outcome
from repairs.rules.plan import may_do, savings
from tests.repairs.rules.small_trade import attempt, finding, plan_of

STUCK = finding("main_slide", "stuck")
HAND = "free_slide:main_slide::hand"


def test_freed_early_saves_what_the_harder_rungs_would_have_taken():
    before = plan_of(STUCK)
    after = plan_of(STUCK, attempts=[attempt(HAND, Outcome.FREED)])
    saved = savings(before, after)
    harder = before.ladders[0].ahead[1:]
    reach, minutes, dollars, done = 1.0, 0.0, 0.0, set()
    for rung in harder:
        first = [bill for name, bill in rung.first_takes if name not in done]
        done.update(name for name, _ in rung.first_takes)
        taken = (rung.minutes.low + 4 * rung.minutes.likely + rung.minutes.high) / 6
        minutes += reach * (taken + sum(one.minutes for one in first))
        dollars += reach * float(rung.cost_amount + sum(one.amount for one in first))
        reach *= 1 - rung.p
    assert done == {"Take felts out", "Bath"}
    assert saved.minutes == pytest.approx(minutes)
    assert saved.minutes > 10
    assert saved.amount == Decimal(str(dollars)).quantize(Decimal("0.01"))
    assert saved.rungs == tuple(rung.entry.name for rung in harder)


def test_still_stuck_saves_nothing():
    before = plan_of(STUCK)
    assert not savings(before, plan_of(STUCK, attempts=[attempt(HAND, Outcome.STILL_STUCK)])).rungs


def test_a_part_that_goes_to_a_shop_saves_nothing():
    before = plan_of(STUCK)
    assert savings(before, plan_of(STUCK, attempts=[attempt(HAND, Outcome.DAMAGED)])).minutes == 0


def test_a_step_with_nothing_before_it_may_be_done_at_once():
    plan = plan_of(finding("water_key", "leak"), finding("brace", "loose"))
    assert may_do(plan, "take_felts_out") is None


def test_a_step_out_of_order_is_refused_with_the_reason_of_the_rule():
    plan = plan_of(finding("water_key", "leak"), finding("brace", "loose"))
    refusal = may_do(plan, "new_cork:water_key")
    assert refusal is not None
    assert refusal.first == ("bath",)
    assert refusal.reason == "first: Bath (they soak it up)"


def test_steps_that_no_rule_orders_may_be_done_in_any_order():
    plan = plan_of(finding("bow", "dent"), finding("leadpipe", "dent"), finding("water_key", "leak"))
    assert [may_do(plan, step.key) for step in plan.steps[:-1]] == [None, None, None]
    assert may_do(plan, "play_test") is not None


def test_a_harder_rung_waits_for_the_gentler_ones():
    refusal = may_do(plan_of(STUCK), "free_slide:main_slide::taps")
    assert refusal is not None
    assert "gentler first: “Hand”, “Oil”, “Soak”" in refusal.reason


def test_a_rung_of_the_same_class_may_be_taken_before_the_next_one():
    plan = plan_of(STUCK, attempts=[attempt(HAND, Outcome.STILL_STUCK), attempt("take_felts_out", Outcome.DONE)])
    assert plan.steps[0].rung == "oil"
    assert may_do(plan, "free_slide:main_slide::soak") is None


def test_a_rung_waits_for_what_it_needs():
    plan = plan_of(STUCK, attempts=[attempt(HAND, Outcome.STILL_STUCK)])
    refusal = may_do(plan, "free_slide:main_slide::soak")
    assert refusal is not None
    assert refusal.reason == "first: Take felts out"


def test_a_tried_rung_must_be_asked_for():
    refusal = may_do(plan_of(STUCK, attempts=[attempt(HAND, Outcome.STILL_STUCK)]), HAND)
    assert refusal is not None
    assert refusal.reason == "“Hand” was already tried (still stuck): ask for it again"


def test_a_done_step_and_a_stranger_are_told_apart():
    plan = plan_of(finding("bow", "dent"), attempts=[attempt("raise_dent:bow", Outcome.DONE)])
    done, unknown = may_do(plan, "raise_dent:bow"), may_do(plan, "raise_dent:bell")
    assert done is not None
    assert done.reason.endswith("” is already done")
    assert unknown is not None
    assert unknown.reason == "this is not a step of the plan"


def test_a_shop_s_rung_is_not_done_here():
    refusal = may_do(plan_of(STUCK), "free_slide:main_slide::shop")
    assert refusal is not None
    assert refusal.reason == "a shop's work"
