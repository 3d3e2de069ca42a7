"""No flame on oil, tests last, and rules between pairs of steps. The real trade is walked in test_trade."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import OrderRule, Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import AttemptFact, Outcome
from repairs.rules.plan import SHOP_TRIP, Plan, is_left_to_a_shop, plan_work
from repairs.rules.plan.choose import choose_methods
from repairs.rules.plan.graph import Node
from repairs.rules.plan.links import nodes_of, rule_applies
from tests.repairs.rules.plan.test_case import make_case
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
from tests.simulation.drawing import specialist_bench

STUCK, LOOSE = finding("main_slide", "stuck"), finding("brace", "loose")
TRIED = [attempt(f"free_slide:main_slide::{rung}", Outcome.STILL_STUCK) for rung in ("hand", "soak", "oil", "taps")]
FREED = [*TRIED[:2], attempt("free_slide:main_slide::oil", Outcome.FREED)]


def test_after_oil_a_bath_comes_before_the_flame_even_if_it_was_done():
    bathed = [attempt("take_felts_out", Outcome.DONE), attempt("bath", Outcome.DONE), *FREED]
    plan = plan_of(STUCK, LOOSE, attempts=bathed)
    assert keys(plan) == ["bath", "solder_brace:brace", "play_test"]


def test_a_bath_after_the_oil_is_enough():
    bathed = [attempt("take_felts_out", Outcome.DONE), *FREED, attempt("bath", Outcome.DONE)]
    assert keys(plan_of(STUCK, LOOSE, attempts=bathed)) == ["solder_brace:brace", "play_test"]


def test_a_skipped_bath_does_not_clean_the_oil_off():
    skipped = [*FREED, attempt("bath", Outcome.SKIPPED)]
    assert keys(plan_of(STUCK, LOOSE, attempts=skipped)).index("bath") < keys(
        plan_of(STUCK, LOOSE, attempts=skipped)
    ).index("solder_brace:brace")


def test_a_flame_rung_is_cleaned_for_after_the_oil_below_it():
    plan = plan_of(STUCK, attempts=TRIED)
    assert keys(plan) == ["take_felts_out", "bath", "free_slide:main_slide::torch", "play_test"]
    assert "Bath" in plan.step("free_slide:main_slide::torch").blocked_because


def test_without_a_way_to_clean_there_is_no_flame_rung():
    plan = plan_of(STUCK, attempts=TRIED, bench=make_bench(tools=frozenset({"mallet", "torch"})))
    assert keys(plan) == ["play_test"]
    assert "oil could not be cleaned off" in plan.send_out[0].why


def test_oil_that_is_still_to_come_goes_on_after_the_flame():
    plan = plan_of(LOOSE, finding("main_slide", "dry"))
    assert keys(plan).index("solder_brace:brace") < keys(plan).index("grease:main_slide")


def test_an_oil_rung_comes_before_the_bath_that_comes_before_the_flame():
    plan = plan_of(STUCK, LOOSE, attempts=TRIED[:2])
    order = keys(plan)
    assert order.index("free_slide:main_slide::oil") < order.index("bath") < order.index("solder_brace:brace")


def test_a_flame_without_any_cleaning_in_the_trade_is_given_up():
    bare = with_methods(make_catalog(), make_method("bath", fixes=("lime",), whole=True))
    plan = plan_of(LOOSE, catalog=bare, attempts=[attempt("free_slide:main_slide::oil", Outcome.FREED)])
    assert keys(plan) == ["play_test"]
    assert plan.send_out[0].why == "oil could not be cleaned off here before a flame"


def node(key: str, *tags: str, part: str = "") -> Node:
    return Node(key=key, tags=frozenset(tags), phase=1, setup="", part=part, rank=(0, 0, key))


@pytest.mark.parametrize(
    ("before", "after", "applies"),
    [
        (node("a", "clean"), node("b", "solder"), True),
        (node("a", "solder"), node("b", "clean"), False),
        (node("a", "clean", "solder"), node("b", "clean", "solder"), False),
        (node("a", "clean", part="bow"), node("b", "solder", part="bell"), True),
    ],
    ids=["both kinds", "the other way", "each is both", "different parts"],
)
def test_a_rule_orders_two_steps(before, after, applies):
    rule = OrderRule("r", "r", ("clean",), ("solder",), "because")
    assert rule_applies(rule, before=before, after=after) is applies


def test_a_rule_for_one_part_leaves_other_parts_alone():
    rule = OrderRule("r", "r", ("clean",), ("solder",), "because", scope="part")
    assert not rule_applies(rule, before=node("a", "clean", part="bow"), after=node("b", "solder", part="bell"))
    assert rule_applies(rule, before=node("a", "clean"), after=node("b", "solder", part="bell"))


def test_a_step_with_a_flame_is_set_up_at_the_torch_and_others_where_their_method_says():
    nodes = nodes_of(case := make_case(findings=(LOOSE, finding("leadpipe", "lime"))), choose_methods(case))
    assert {key: (one.setup, one.phase, one.part) for key, one in nodes.items()} == {
        "take_felts_out": ("", 2, ""),
        "bath": ("bath", 4, ""),
        "solder_brace:brace": ("torch", 5, "brace"),
    }
    assert nodes["take_felts_out"].rank[:2] == (1, 0)  # dismantling comes late within its phase
    assert nodes["solder_brace:brace"].rank[:2] == (0, 3)  # third along the air path


def test_a_method_comes_after_what_it_names_and_only_after_that():
    late = make_method("new_cork", tags=("cork",), fixes=("leak",), phase=1, after=("grease", "free_slide"))
    plan = plan_of(
        finding("water_key", "leak"), finding("bow", "dry"), finding("brace", "dent"), STUCK,
        catalog=with_methods(make_catalog(), late),
    )  # fmt: skip
    before = {one.step_key: one.because for one in plan.step("new_cork:water_key").waits_on}
    assert before == dict.fromkeys(("grease:bow", "free_slide:main_slide::hand"), "it comes before “New cork”")


def test_tests_that_were_passed_are_not_made_again_until_something_else_was_done():
    played = attempt("play_test", Outcome.DONE)
    assert keys(plan_of(attempts=[played])) == []
    assert keys(plan_of(attempts=[attempt("play_test", Outcome.NOT_RIGHT)])) == ["play_test"]
    assert keys(plan_of(attempts=[played, attempt("bath", Outcome.DONE)])) == ["play_test"]
    assert keys(plan_of(attempts=[attempt("bath", Outcome.DONE), played])) == []
    assert keys(plan_of(STUCK, attempts=[played])) == ["free_slide:main_slide::hand", "play_test"]


def test_pads_are_tested_for_leaks_before_the_play_test():
    padded = make_kind(parts=(make_part("pads", "pad"),))
    assert keys(plan_of(kind=padded)) == ["leak_test", "play_test"]


TRADE = catalog()
FALLEN = tuple(
    FindingFact(part=part, fault=fault, severity=Severity.SEVERE)
    for part, fault in (("soundpost", "soundpost_down"), ("bridge", "bridge_bad"), ("strings", "string_broken"))
)


def plan_at_school(kind: str, *findings: FindingFact, attempts: tuple[AttemptFact, ...] = ()) -> Plan:
    bench = bench_profile("school", catalog=TRADE)
    return plan_work(kind=TRADE.kinds[kind], catalog=TRADE, findings=findings, bench=bench, attempts=attempts)


def test_post_and_bridge_come_before_new_strings_and_one_trip_takes_both():
    """Common practice, no source: strings pull a bridge down that no post holds up."""
    plan = plan_at_school("cello", *FALLEN)
    strings = next(step for step in plan.steps if step.method == "string_one")
    trip = plan.step(SHOP_TRIP)
    assert trip
    assert SHOP_TRIP in strings.prerequisites
    assert len(plan.send_out) == 2
    assert trip.watch[:2] == tuple(f"{one.say} ({one.finding.part})." for one in plan.send_out)
    assert not [line for line in strings.watch if line.startswith("First the shop")]  # said once


@pytest.mark.parametrize("findings", [FALLEN, FALLEN[:2]], ids=["with a broken string", "strings sound"])
def test_slack_strings_go_up_once_after_shop_and_new_strings(findings):
    """Common practice, no source: slacken, shop, strings, set-up, play."""
    order = [step.method for step in plan_at_school("cello", *findings).steps]
    usual = ["slacken_strings", SHOP_TRIP, "string_one", "strings_up", "play_test"]
    assert order == [one for one in usual if one != "string_one" or len(findings) > 2]


def test_strings_that_stay_up_are_not_brought_up():
    assert [step.method for step in plan_at_school("cello", FALLEN[2]).steps] == ["string_one", "play_test"]


def test_a_rotor_string_that_comes_off_for_the_bath_goes_on_new_once():
    """Common practice, no source."""
    worn = FindingFact(part="linkage", place="1", fault="rotor_string", severity=Severity.SEVERE)
    lime = FindingFact(part="leadpipe", fault="lime_scale", severity=Severity.MODERATE)
    plan = plan_at_school("horn_double", worn, lime)
    methods = [step.method for step in plan.steps]
    assert "rotor_string" not in methods
    assert methods.index("remove_bumpers") < methods.index("soap_bath_brass") < methods.index("fit_bumpers")
    back = plan.step("fit_bumpers")
    assert back
    assert worn in back.findings
    assert "rotor_string" in [step.method for step in plan_at_school("horn_double", worn).steps]
    done = tuple(attempt(key, Outcome.DONE) for key in ("remove_bumpers", "soap_bath_brass"))
    later = plan_at_school("horn_double", worn, lime, attempts=done)  # the strings lie on the bench
    assert "rotor_string" not in [step.method for step in later.steps]


def test_a_joint_is_made_ready_right_before_the_flame_and_after_the_bath():
    """Common practice, no source: a joint that is cleaned first is dirty again after the bath."""
    piston = FindingFact(part="piston", place="2", fault="valve_stuck", severity=Severity.MODERATE)
    brace = "braces_and_finger_hooks"
    loose = [
        FindingFact(part=brace, place=place, fault="solder_broken", severity=Severity.MODERATE)
        for place in ("bow_brace", "finger_hook")
    ]
    lime = FindingFact(part="leadpipe", fault="lime_scale", severity=Severity.MODERATE)
    bench = bench_profile("full", catalog=TRADE)
    plan = plan_work(kind=TRADE.kinds["trumpet"], catalog=TRADE, findings=(piston, *loose, lime), bench=bench)
    order = keys(plan)
    for place in ("bow_brace", "finger_hook"):
        ready = [order.index(f"{method}:{brace}:{place}") for method in ("clear_for_heat", "degrease_joint")]
        flame = order.index(f"solder_brace:{brace}:{place}")
        assert max(order.index("soap_bath_brass"), order.index("remove_pistons")) < min(ready) <= max(ready) < flame
        between = {plan.steps[at].method for at in range(min(ready), flame)}
        assert between <= {"clear_for_heat", "degrease_joint", "solder_brace"}
    free = {step.method for step in plan.steps if not step.waits_on}
    assert "free_piston" in free
    assert not free & {"clear_for_heat", "degrease_joint"}


def test_a_cork_waits_for_work_that_heat_follows_if_it_does_not_serve():
    """Common practice, no source: a tube that no ball raises is replaced with a torch, and the torch chars the cork."""
    fold = FindingFact(part="bell_bow", fault="crease", severity=Severity.MODERATE)
    leak = FindingFact(part="tuning_slide_water_key", fault="water_key_leak", severity=Severity.MODERATE)
    kind, ball = TRADE.kinds["trumpet"], "dent_ball:bell_bow"
    for bench, waits in ((specialist_bench(TRADE), True), (bench_profile("full", catalog=TRADE), False)):
        plan = plan_work(kind=kind, catalog=TRADE, findings=(fold, leak), bench=bench)
        cork = next(one for one in plan.steps if one.method == "water_key_cork")
        assert plan.step(ball)
        assert (ball in {one.step_key for one in cork.waits_on if "later try may heat" in one.because}) is waits


def test_no_bath_is_added_that_a_shop_must_make_way_for_and_the_shop_is_asked_by_name_for_what_needs_it():
    findings = (
        FindingFact(part="bell_bow", fault="red_rot", severity=Severity.SEVERE),
        FindingFact(part="top_valve_cap", place="3", fault="cap_stuck", severity=Severity.SEVERE),
    )
    halted = (attempt("free_cap:top_valve_cap:3:oil", Outcome.STOPPED),)
    plan = plan_work(
        kind=TRADE.kinds["trumpet"], catalog=TRADE, findings=findings, bench=specialist_bench(TRADE), attempts=halted
    )
    sent = {one.finding.part: one for one in plan.send_out}
    assert sent["bell_bow"].method == "tube_replace"
    assert "oil could not be cleaned off here" in sent["bell_bow"].why
    assert not {"remove_felts", "soap_bath_brass"} & set(keys(plan))


@pytest.mark.parametrize("outcome", [Outcome.DONE, Outcome.SKIPPED])
def test_a_trip_that_was_made_or_left_out_holds_nothing_back(outcome):
    plan = plan_at_school("cello", *FALLEN, attempts=(attempt(SHOP_TRIP, outcome),))
    strings = next(step for step in plan.steps if step.method == "string_one")
    assert plan.step(SHOP_TRIP) is None
    assert SHOP_TRIP not in strings.prerequisites
    assert [line for line in strings.watch if line.startswith("First the shop")]  # said, as long as it is to be done


def test_cleaning_comes_before_the_trip_and_corks_and_putting_together_after_it():
    """Common practice, no source: soft parts last."""
    findings = (
        FindingFact(part="valve_casing", place="1", fault="casing_dent", severity=Severity.SEVERE),
        FindingFact(part="leadpipe", fault="lime_scale", severity=Severity.MODERATE),
        FindingFact(part="tuning_slide_water_key", fault="water_key_leak", severity=Severity.MODERATE),
    )
    order = [step.method for step in plan_at_school("trumpet", *findings).steps]
    assert order.index("soap_bath_brass") < order.index(SHOP_TRIP) < order.index("water_key_cork")
    assert order.index(SHOP_TRIP) < order.index("reassemble_brass")


def test_no_trip_is_planned_where_nothing_here_waits_for_the_shop():
    rot = FindingFact(part="case", fault="case_broken", severity=Severity.MODERATE)
    dent = FindingFact(part="valve_casing", place="1", fault="casing_dent", severity=Severity.SEVERE)
    assert plan_at_school("trumpet", dent).step(SHOP_TRIP) is None
    assert plan_at_school("trumpet", dent, rot).step(SHOP_TRIP) is None


def test_what_is_left_to_a_shop_is_said_until_somebody_was_there():
    dent = FindingFact(part="valve_casing", place="1", fault="casing_dent", severity=Severity.SEVERE)
    cork = FindingFact(part="tuning_slide_water_key", fault="water_key_leak", severity=Severity.MODERATE)
    assert is_left_to_a_shop(plan_at_school("trumpet", dent))
    assert not is_left_to_a_shop(plan_at_school("trumpet", dent, cork)), "there is work here yet"
    assert not is_left_to_a_shop(plan_at_school("trumpet"))
    assert not is_left_to_a_shop(plan_at_school("trumpet", dent, attempts=(attempt(SHOP_TRIP, Outcome.DONE),)))
