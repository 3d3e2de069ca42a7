"""A plan of a small trade, checked by eye; the real catalog is walked in test_links."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from itertools import groupby

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Effect, Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.effort import TimeRecord, learn_times, pert_mean
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, PlannedStep, RungState, plan_work
from repairs.rules.plan.work import TEST_AGAIN
from tests.repairs.rules.small_trade import (
    attempt,
    finding,
    keys,
    make_bench,
    make_catalog,
    make_kind,
    make_method,
    make_part,
    plan_of,
    with_methods,
)
from tests.simulation.drawing import draw_inspection, full_bench

TRADE = catalog()
STUCK = finding("main_slide", "stuck")


def test_an_instrument_without_findings_is_only_played():
    assert keys(plan_of()) == ["play_test"]


def test_the_same_facts_give_the_same_plan():
    facts = (STUCK, finding("brace", "loose"), finding("water_key", "leak"), finding("leadpipe", "lime"))
    assert plan_of(*facts) == plan_of(*reversed(facts))


def test_work_comes_in_the_order_of_the_trade():
    plan = plan_of(
        finding("water_key", "leak"),
        finding("bow", "dent"),
        finding("brace", "loose"),
        finding("main_slide", "dry"),
        finding("leadpipe", "lime"),
    )
    assert keys(plan) == [
        "take_felts_out",
        "bath",
        "solder_brace:brace",
        "raise_dent:bow",
        "new_cork:water_key",
        "grease:main_slide",
        "play_test",
    ]


def test_a_sousaphone_bath_is_not_a_trumpet_bath():
    """Common practice, no source: no published price list by size was found."""

    def bath_of(kind: str, *, tools: frozenset[str] = frozenset()) -> PlannedStep | None:
        bench = bench_profile("school", catalog=TRADE)
        findings = [FindingFact(part="leadpipe", fault="lime_scale", severity=Severity.MODERATE)]
        plan = plan_work(
            kind=TRADE.kinds[kind], catalog=TRADE, findings=findings, bench=replace(bench, tools=bench.tools - tools)
        )
        return plan.step("soap_bath_brass")

    small, large = bath_of("trumpet"), bath_of("sousaphone")
    assert small
    assert large
    assert large.minutes.likely > 2 * small.minutes.likely
    assert large.wait_h == 3 * small.wait_h
    assert ("lift" in [one.code for one in large.cautions], "lift" in [one.code for one in small.cautions]) == (
        True,
        False,
    )
    assert bath_of("trumpet", tools=frozenset({"large_tub"}))
    assert bath_of("sousaphone", tools=frozenset({"large_tub"})) is None


def test_one_bath_serves_every_finding_it_puts_right():
    plan = plan_of(finding("leadpipe", "lime"), finding("bow", "lime"))
    assert [one.part for one in plan.step("bath").findings] == ["leadpipe", "bow"]


def test_what_a_method_needs_is_added_only_where_the_kind_has_it():
    bare = make_kind(parts=(make_part("leadpipe", "leadpipe"),))
    assert keys(plan_of(finding("leadpipe", "lime"), kind=bare)) == ["bath", "play_test"]


def test_pads_are_proved_by_a_leak_test_before_the_play_test():
    kind = make_kind(parts=(make_part("pads", "pad"),))
    plan = plan_of(finding("pads", "pad_leak", place="A"), finding("pads", "pad_leak", place="B"), kind=kind)
    assert keys(plan) == ["seat_pad:pads:A", "seat_pad:pads:B", "leak_test", "play_test"]


def test_looks_are_left_and_say_so():
    plan = plan_of(finding("finish", "scratch"))
    assert [one.why for one in plan.leave] == ["looks only: it does not affect playing"]
    assert keys(plan) == ["play_test"]


def test_looks_ride_along_with_a_bath_that_is_done_anyway():
    plan = plan_of(finding("leadpipe", "lime"), finding("finish", "stain"))
    assert plan.leave == ()
    assert len(plan.step("bath").findings) == 2


def test_looks_are_worked_on_when_somebody_asks():
    assert "bath" in keys(plan_of(finding("finish", "stain"), is_looks_included=True))


def test_an_effect_that_was_judged_overrides_the_catalog():
    lime = finding("leadpipe", "lime")
    assert keys(plan_of(lime, effects={lime: Effect.LOOKS_ONLY})) == ["play_test"]


@pytest.mark.parametrize(
    ("bench", "why"),
    [
        (make_bench(has_torch=False), "no torch is allowed at this bench"),
        (make_bench(methods=frozenset()), "nobody at this bench is trained for it"),
        (make_bench(tools=frozenset({"tub"})), "no torch at this bench"),
        (make_bench(tools=frozenset({"torch"})), "it needs “Bath” first, but no tub at this bench"),
    ],
    ids=["not allowed", "not trained", "no tool", "its need cannot be had"],
)
def test_what_this_bench_cannot_do_goes_out_with_the_reason(bench, why):
    plan = plan_of(finding("brace", "loose"), bench=bench)
    assert [(one.method, one.why) for one in plan.send_out] == [("solder_brace", why)]
    assert keys(plan) == ["play_test"]


def test_chemicals_that_are_not_allowed_go_out():
    plan = plan_of(finding("bow", "crust"), bench=make_bench(has_chemicals=False))
    assert plan.send_out[0].why == "no chemicals are allowed at this bench"


def test_specialist_work_goes_out_with_its_fee():
    plan = plan_of(finding("leadpipe", "rot"))
    assert (plan.send_out[0].fee_low_amount, plan.send_out[0].fee_high_amount) == (Decimal(80), Decimal(140))
    assert plan.send_out[0].why == "specialist work"
    assert plan.taken.outside_cost.mean == pytest.approx(110, abs=0.5)
    assert plan.taken.total_cost.mean == pytest.approx(plan.taken.cost.mean + plan.taken.outside_cost.mean, abs=0.5)


def test_a_part_that_must_stay_dry_is_never_wetted():
    plan = plan_of(finding("felt", "crust"))
    assert plan.send_out[0].why == "the felt must stay dry"


def test_a_bath_tells_what_to_keep_out_of_it():
    assert plan_of(finding("leadpipe", "lime")).step("bath").keep_dry == ("felt", "case")


def test_no_bath_for_a_kind_that_has_none():
    kind = make_kind(parts=tuple(replace(part, bath=make_part("x", "x").bath.NONE) for part in make_kind().parts))
    assert "never put in water" in plan_of(finding("leadpipe", "lime"), kind=kind).send_out[0].why


def test_rot_forbids_force_on_its_part_only():
    plan = plan_of(finding("bow", "rot"), finding("bow", "dent"), finding("leadpipe", "dent"))
    assert "raise_dent:bow" not in keys(plan)
    assert "raise_dent:leadpipe" in keys(plan)


def test_a_ladder_shows_its_first_rung_and_what_lies_behind():
    plan = plan_of(STUCK)
    step = plan.steps[0]
    assert (step.key, step.waits_on) == ("free_slide:main_slide::hand", ())
    assert [rung.entry.code for rung in step.next_rungs] == ["oil", "soak", "taps", "torch", "shop"]
    assert step.next_rungs[-1].state is RungState.OUTSIDE


def test_still_stuck_shows_the_next_rung_and_what_it_needs():
    stuck = [attempt(f"free_slide:main_slide::{rung}", Outcome.STILL_STUCK) for rung in ("hand", "oil")]
    plan = plan_of(STUCK, attempts=stuck)
    assert keys(plan) == ["take_felts_out", "free_slide:main_slide::soak", "play_test"]
    assert plan.step("free_slide:main_slide::soak").waits_on
    assert "“Soak” needs it" in plan.step("free_slide:main_slide::soak").blocked_because


def test_a_tried_rung_comes_back_only_when_asked_for():
    tried = [attempt("free_slide:main_slide::hand", Outcome.STILL_STUCK)]
    assert "free_slide:main_slide::hand" not in keys(plan_of(STUCK, attempts=tried))
    assert "free_slide:main_slide::hand" in keys(plan_of(STUCK, attempts=tried, retry=["free_slide:main_slide::hand"]))


def test_a_bath_done_anyway_makes_the_soak_free():
    plan = plan_of(
        STUCK, finding("leadpipe", "lime"), attempts=[attempt("free_slide:main_slide::hand", Outcome.STILL_STUCK)]
    )
    soak = plan.step("free_slide:main_slide::soak")
    assert (soak.minutes.high, soak.wait_h) == (0, 0)
    assert keys(plan).index("bath") < keys(plan).index("free_slide:main_slide::soak")


@pytest.mark.parametrize("outcome", [Outcome.STOPPED, Outcome.DAMAGED])
def test_a_ladder_that_was_stopped_or_did_damage_goes_to_a_shop(outcome):
    plan = plan_of(STUCK, attempts=[attempt("free_slide:main_slide::hand", outcome)])
    assert plan.ladders == ()
    assert plan.send_out[0].why == "a try was stopped or did damage: nothing more is tried here"
    assert plan.send_out[0].fee_high_amount == Decimal(120)


def test_rot_takes_the_forceful_rungs_away():
    plan = plan_of(STUCK, finding("main_slide", "rot"))
    taps = next(rung for rung in plan.ladders[0].rungs if rung.entry.code == "taps")
    assert (taps.state, taps.why) == (RungState.REFUSED, "rotted tube tears when it is forced")


def test_freed_ends_the_ladder():
    plan = plan_of(STUCK, attempts=[attempt("free_slide:main_slide::hand", Outcome.FREED)])
    assert (plan.ladders, plan.send_out, keys(plan)) == ((), (), ["play_test"])


def test_a_finding_made_on_the_bench_joins_the_plan():
    done = [attempt("take_felts_out", Outcome.DONE), attempt("bath", Outcome.DONE)]
    plan = plan_of(finding("leadpipe", "lime"), finding("water_key", "leak"), attempts=done)
    assert keys(plan) == ["new_cork:water_key", "play_test"]
    assert [one.attempt.step_key for one in plan.done] == ["take_felts_out", "bath"]


def test_a_method_that_did_not_help_gives_way_to_the_next():
    plan = plan_of(finding("bow", "dent"), attempts=[attempt("raise_dent:bow", Outcome.NOT_RIGHT)])
    assert plan.send_out[0].method == "new_pipe"
    assert plan.send_out[0].why == "tried here and still not right: Raise dent; specialist work"


def test_a_skipped_step_leaves_its_finding():
    plan = plan_of(finding("bow", "dent"), attempts=[attempt("raise_dent:bow", Outcome.SKIPPED)])
    assert plan.leave[0].why == "“Raise dent” was skipped here"


def test_the_play_test_is_due_again_after_later_work():
    proved = [attempt("new_cork:water_key", Outcome.DONE), attempt("play_test", Outcome.DONE)]
    assert keys(plan_of(finding("water_key", "leak"), attempts=proved)) == []
    assert keys(plan_of(finding("water_key", "leak"), attempts=reversed(proved))) == ["play_test"]


def test_hot_work_shows_a_caution_to_acknowledge():
    step = plan_of(finding("brace", "loose")).step("solder_brace:brace")
    assert [one.code for one in step.acknowledgements] == ["heat"]


def test_recorded_minutes_move_the_estimate():
    slow = learn_times([TimeRecord(method="raise_dent", minutes=30, likely=10)] * 12)
    plain, learned = plan_of(finding("bow", "dent")), plan_of(finding("bow", "dent"), times=slow)
    assert learned.taken.attended_minutes.p50 > 1.8 * plain.taken.attended_minutes.p50


def test_light_and_severe_may_have_different_effects():
    faults = dict(make_catalog().faults)
    worse = replace(faults["dent"], effects={**faults["dent"].effects, Severity.LIGHT: (Effect.LOOKS_ONLY,)})
    catalog = make_catalog(faults={**faults, "dent": worse})
    assert keys(plan_of(finding("bow", "dent", Severity.LIGHT), catalog=catalog)) == ["play_test"]
    assert "raise_dent:bow" in keys(plan_of(finding("bow", "dent", Severity.SEVERE), catalog=catalog))


# what a shop does first

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


CAPS = [FindingFact("bottom_valve_cap", "cap_stuck", Severity.MODERATE, place=place) for place in "123"]


def on_trumpet(*findings: FindingFact, attempts=()) -> Plan:
    trade = catalog()
    bench = bench_profile("school", catalog=trade)
    return plan_work(
        kind=trade.kinds["trumpet"], catalog=trade, findings=findings, bench=bench, attempts=tuple(attempts)
    )


def test_the_same_work_at_three_caps_is_set_up_once():
    """Taps take (2 + 4 x 4 + 10) / 6 minutes, 40 % of them set-up; oil (2 + 4 x 3 + 8) / 6 and a wait of 8 h for all."""
    one, all_three = on_trumpet(CAPS[0]), on_trumpet(*CAPS)
    taps, *again = all_three.steps[:3]
    assert taps.minutes == one.steps[0].minutes
    assert [step.rung for step in again] == ["taps", "taps"]
    for step in again:
        assert pert_mean(step.minutes) == pytest.approx(0.6 * 28 / 6)
        assert step.set_up_minutes == pytest.approx(0.4 * 28 / 6)
        assert step.cost_amount == pytest.approx(taps.cost_amount * Decimal("0.6"), abs=Decimal("0.01"))
    proof = pert_mean(one.steps[-1].minutes)
    alone = one.mean_minutes - proof
    assert all_three.mean_minutes == pytest.approx(3 * alone + proof - 2 * 0.4 * 28 / 6)
    assert all_three.taken.attended_minutes.mean == pytest.approx(all_three.mean_minutes, rel=0.002)
    saved = 3 * one.taken.cost.mean - all_three.taken.cost.mean - 2 * proof / 2
    assert saved == pytest.approx(2 * 0.4 * 28 / 6 / 2, abs=0.05)


def test_what_can_be_done_now_in_the_same_way_stands_together():
    """Whatever else is found: pads leveled one after another, caps oiled one after another."""
    generator, trade = random.Random("together"), catalog()
    kinds, bench, seen = list(trade.kinds.values()), full_bench(trade), 0
    for number in range(120):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=trade, generator=generator)
        plan = plan_work(kind=kind, catalog=trade, findings=findings, bench=bench)
        free = [(step.method, step.rung) for step in plan.steps if not step.waits_on]
        runs = [work for work, _ in groupby(free)]
        assert len(runs) == len(set(runs)), (kind.code, free)
        seen += len(free) > len(runs)
    assert seen > 20
