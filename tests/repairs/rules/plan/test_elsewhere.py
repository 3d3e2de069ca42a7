"""Shop work that belongs before a step here. The order is common practice, no source."""

from __future__ import annotations

from repairs.rules.plan.elsewhere import TEST_AGAIN
from tests.repairs.rules.small_trade import finding, make_bench, make_catalog, make_method, plan_of, with_methods

ROT, DENT, LEAK = finding("leadpipe", "rot"), finding("leadpipe", "dent"), finding("water_key", "leak")


def test_a_step_says_which_work_of_the_shop_comes_first_and_why():
    plan = plan_of(ROT, finding("main_slide", "dry"))
    assert [one.method for one in plan.send_out] == ["new_pipe"]
    greased = plan.step("grease:main_slide")
    assert greased.watch[0] == "First the shop's work: “New pipe” (oil traps grit)."


def test_a_named_predecessor_counts_too():
    late = make_method("new_cork", tags=("cork",), fixes=("leak",), after=("new_pipe",))
    plan = plan_of(ROT, LEAK, catalog=with_methods(make_catalog(), late))
    assert plan.step("new_cork:water_key").watch[0] == "First the shop's work: “New pipe”."


def test_work_without_a_rule_between_says_nothing():
    plan = plan_of(ROT, LEAK)
    assert plan.step("new_cork:water_key").watch == ()


def test_a_test_here_does_not_cover_what_the_shop_has_still_to_do():
    assert TEST_AGAIN in plan_of(ROT).step("play_test").watch
    assert TEST_AGAIN not in plan_of(LEAK).step("play_test").watch


def test_a_bench_that_does_all_of_it_says_nothing():
    able = make_bench(methods=frozenset({"new_pipe", "solder_brace"}))
    assert plan_of(ROT, bench=able).step("play_test").watch == ()
