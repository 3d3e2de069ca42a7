"""A repad instead of pad after pad: by its cost, or by the trade's count (about half; common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity, Skill
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import AttemptFact, Outcome
from repairs.rules.plan import Plan, plan_work
from repairs.rules.plan.choose import choose_methods
from repairs.rules.plan.overhaul import overhaul
from tests.repairs.rules.plan.test_case import make_case
from tests.repairs.rules.small_trade import attempt

CLARINET = catalog().kinds["clarinet_bb"]
SAXOPHONE = catalog().kinds["sax_alto"]


def bad_pads(count: int, *, kind=CLARINET, fault="pad_torn") -> list[FindingFact]:
    spots = [(part, place) for part in kind.parts if part.role in {"pad", "key"} for place in part.places]
    assert len(spots) >= count
    return [FindingFact(part.code, fault, Severity.SEVERE, place.code) for part, place in spots[:count]]


def plan_for(findings: list[FindingFact], *, bench="school", kind=CLARINET, attempts=()) -> Plan:
    profile = bench_profile(bench, catalog=catalog())
    return plan_work(kind=kind, catalog=catalog(), findings=findings, bench=profile, attempts=attempts)


def test_a_few_bad_pads_are_replaced_one_by_one():
    plan = plan_for(bad_pads(3))
    assert [step.method for step in plan.steps].count("pad_replace_one") == 3
    assert plan.at_once == ()


def test_many_bad_pads_make_one_repad_with_the_keys_off_before_and_on_after():
    findings = bad_pads(16)
    plan = plan_for(findings)
    assert [step.method for step in plan.steps] == [
        "strip_keys", "repad_clarinet", "mount_keys", "leak_test", "play_test",
    ]  # fmt: skip
    assert set(plan.step("repad_clarinet").findings) == set(findings)


def test_the_arithmetic_is_that_of_a_pocket_calculator():
    """16 pads of (8 + 4 x 15 + 30) / 6 minutes and $2.35, set up once (6 minutes are set-up); or the keys off, a repad and a set."""
    told = plan_for(bad_pads(16)).at_once[0]
    pad = (8 + 4 * 15 + 30) / 6
    whole = (120 + 4 * 180 + 300) / 6 + (15 + 4 * 35 + 80) / 6 + (20 + 4 * 40 + 90) / 6
    assert told.one_by_one.minutes == pytest.approx(16 * pad - 15 * 6)
    assert float(told.one_by_one.amount) == pytest.approx((16 * pad - 15 * 6) / 60 * 30 + 16 * 2.35, abs=0.01)
    assert told.all_at_once.minutes == pytest.approx(whole)
    assert float(told.all_at_once.amount) == pytest.approx(whole / 60 * 30 + 16 + 0.3, abs=0.01)
    assert "16 pads one by one: 171 min and $123. All pads at once: 274 min and $153." in told.sentence


def test_from_the_trades_count_on_the_repad_is_planned_though_it_costs_more_today():
    assert plan_for(bad_pads(8)).at_once == ()
    told = plan_for(bad_pads(9)).at_once[0]
    assert told.is_chosen
    assert told.is_by_rule
    assert told.all_at_once.amount > told.one_by_one.amount
    assert "With 9 or more bad pads" in told.sentence


def test_a_shop_s_repad_is_planned_only_where_it_is_cheaper_and_shown_beside_the_single_pads_otherwise():
    plan = plan_for(bad_pads(14, kind=SAXOPHONE), kind=SAXOPHONE)
    assert [step.method for step in plan.steps].count("pad_replace_one") == 14
    told = plan.at_once[0]
    assert (told.is_chosen, told.is_at_shop) == (False, True)
    assert told.all_at_once.amount > told.one_by_one.amount
    assert told.sentence.endswith("Planned one by one, which is cheaper.")


def test_a_bench_that_does_no_pads_sends_the_instrument_for_one_repad_that_is_paid_once():
    plan = plan_for(bad_pads(16), bench="basic")
    assert {one.method for one in plan.send_out} == {"repad_clarinet"}
    assert [one.is_shared for one in plan.send_out] == [False] + [True] * 15
    assert sum(one.fee_high_amount for one in plan.send_out) == plan.send_out[0].fee_high_amount


def test_a_tech_who_leaves_the_repad_out_gets_the_single_pads_back():
    plan = plan_for(bad_pads(16), attempts=[attempt("repad_clarinet", Outcome.SKIPPED)])
    assert [step.method for step in plan.steps].count("pad_replace_one") == 16


def test_a_repad_that_is_done_leaves_no_pad_to_do():
    findings = bad_pads(16)
    attempts: list[AttemptFact] = []
    while (step := plan_for(findings, attempts=attempts).next_step) is not None:
        attempts.append(attempt(step.key, Outcome.DONE))
        assert len(attempts) < 10
    assert [one.method for one in attempts] == ["strip_keys", "repad_clarinet", "mount_keys", "leak_test", "play_test"]


def test_what_is_no_pad_work_stays_as_it_was():
    case = make_case(
        kind=CLARINET,
        catalog=catalog(),
        bench=bench_profile("school", catalog=catalog()),
        findings=(*bad_pads(10), FindingFact("center_tenon", "tenon_cork_bad", Severity.SEVERE)),
    )
    chosen = choose_methods(case)
    overhaul(case, chosen=chosen)
    assert sorted(chosen.methods) == ["repad_clarinet", "strip_keys", "tenon_cork:center_tenon"]


def test_two_bad_places_are_enough_to_weigh_where_all_at_once_is_cheap():
    """Two pads of (8 + 60 + 30) / 6 minutes, less 6 for one set-up, at $30 an hour and $2.35 make $18.03; a shop asks $17."""
    trade = catalog()
    cheap = replace(trade.methods["repad_clarinet"], fee=(Decimal(10), Decimal(24)), parts=(), skill=Skill.SPECIALIST)
    bench = bench_profile("school", catalog=trade)
    case = make_case(
        kind=CLARINET, catalog=replace(trade, methods={**trade.methods, "repad_clarinet": cheap}),
        bench=replace(bench, methods=bench.methods - {"repad_clarinet"}), findings=tuple(bad_pads(2)),
    )  # fmt: skip
    chosen = choose_methods(case)
    overhaul(case, chosen=chosen)
    (told,) = chosen.at_once
    assert (told.count, told.is_chosen, told.is_at_shop, told.is_by_rule) == (2, True, True, False)
    assert (told.one_by_one.amount, told.all_at_once.amount) == (Decimal("18.03"), Decimal("17.00"))
    assert told.sentence == "2 pads one by one: 27 min and $18. All pads at once at a shop: $17."
    assert (list(chosen.methods), len(chosen.send_out)) == ([], 2)
    one = replace(case, findings=case.findings[:1])
    overhaul(one, chosen=(single := choose_methods(one)))
    assert single.at_once == []
