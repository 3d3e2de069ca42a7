"""Which method each finding gets."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.schema import Guard, PartNeed, Remedy, Severity, Skill
from inventory.rules.facts import Owed
from repairs.rules.facts import Outcome
from repairs.rules.plan.choose import bill_once, choose_methods, methods_of
from tests.repairs.rules.plan.test_case import make_case
from tests.repairs.rules.small_trade import attempt, finding, make_bench, make_catalog, make_method, with_methods

DENT = finding("bow", "dent")


def test_methods_are_those_of_the_first_remedy_that_fits():
    remedies = (
        Remedy(fault="dent", roles=("bow",), methods=("new_pipe",), severities=(Severity.SEVERE,)),
        Remedy(fault="dent", roles=(), methods=("raise_dent",), kinds=("other_horn",)),
        Remedy(fault="dent", roles=(), methods=("raise_dent", "new_pipe")),
    )
    case = make_case(catalog=make_catalog(remedies=remedies), findings=(DENT,))
    assert [one.code for one in methods_of(case, DENT)] == ["raise_dent", "new_pipe"]
    severe = finding("bow", "dent", Severity.SEVERE)
    assert [one.code for one in methods_of(case, severe)] == ["new_pipe"]


def test_a_second_method_is_taken_where_the_first_cannot_be_done_here():
    push = make_method("push_out", fixes=("dent",))
    catalog = with_methods(
        make_catalog(remedies=(Remedy(fault="dent", roles=(), methods=("raise_dent", "push_out")),)), push
    )
    chosen = choose_methods(make_case(catalog=catalog, findings=(DENT,), bench=make_bench(tools=frozenset())))
    assert list(chosen.methods) == ["push_out:bow"]


def test_the_full_cleaning_is_planned_where_it_is_owed():
    tub = make_method("tub", tags=("clean", "wet", "full_cleaning"), whole=True)
    case = make_case(catalog=with_methods(make_catalog(), tub), cleaning_owed=frozenset({Owed.FULL}))
    assert "tub" in choose_methods(case).methods
    assert "tub" not in choose_methods(make_case(catalog=case.catalog)).methods


def test_a_finding_that_the_catalog_knows_nothing_for_goes_to_a_shop_with_a_question():
    chosen = choose_methods(make_case(catalog=make_catalog(remedies=()), findings=(DENT,)))
    assert [(one.method, one.say, one.why) for one in chosen.send_out] == [
        ("", "Ask a shop", "the catalog has no method for it: ask a shop")
    ]


def test_a_fee_that_the_catalog_does_not_give_is_a_shop_s_hours_and_parts():
    chosen = choose_methods(make_case(findings=(DENT,), bench=make_bench(tools=frozenset()), catalog=make_catalog(
        remedies=(Remedy(fault="dent", roles=(), methods=("raise_dent",)),), settings={"shop_rate_per_hour": Decimal(60)}
    )))  # fmt: skip
    assert (chosen.send_out[0].fee_low_amount, chosen.send_out[0].fee_high_amount) == (Decimal(5), Decimal(20))


def test_a_step_that_did_damage_stops_the_work_on_its_finding():
    chosen = choose_methods(make_case(findings=(DENT,), attempts=(attempt("raise_dent:bow", Outcome.DAMAGED),)))
    assert chosen.methods == {}
    assert "damaged the part" in chosen.send_out[0].why


def test_a_given_up_method_gives_way_to_the_next():
    push = make_method("push_out", fixes=("dent",), skill=Skill.BASIC)
    catalog = with_methods(
        make_catalog(remedies=(Remedy(fault="dent", roles=(), methods=("raise_dent", "push_out")),)), push
    )
    case = make_case(catalog=catalog, findings=(DENT,), given_up={"raise_dent:bow": "oil"})
    assert list(choose_methods(case).methods) == ["push_out:bow"]


def test_stain_that_the_bath_took_along_is_not_left_over():
    stain, lime = finding("finish", "stain"), finding("leadpipe", "lime")
    done = (attempt("take_felts_out", Outcome.DONE), attempt("bath", Outcome.DONE))
    assert choose_methods(make_case(findings=(stain, lime), attempts=done)).leave == []


def test_a_ladder_that_was_skipped_as_a_whole_leaves_its_finding():
    stuck = finding("main_slide", "stuck")
    case = make_case(findings=(stuck,), attempts=(attempt("free_slide:main_slide", Outcome.SKIPPED),))
    assert choose_methods(case).leave[0].finding == stuck


def test_a_specialist_may_solder_a_new_tube_in_where_rot_forbids_the_torch():
    guard = Guard(fault="rot", forbids=("flame", "force"), because="it burns through")
    weld = make_method("weld", fixes=("rot",), skill=Skill.SPECIALIST, tags=("flame",), fee=(Decimal(50), Decimal(90)))
    push = make_method("push", fixes=("rot",), skill=Skill.SPECIALIST, tags=("force",))
    catalog = with_methods(
        make_catalog(guards=(guard,), remedies=(Remedy(fault="rot", roles=(), methods=("push", "weld")),)), weld, push
    )
    chosen = choose_methods(make_case(catalog=catalog, findings=(finding("bow", "rot"),)))
    assert [(one.method, one.why) for one in chosen.send_out] == [("weld", "it burns through; specialist work")]


def test_the_part_that_a_shop_puts_in_is_paid_on_top_of_its_fee():
    pipe = PartNeed(code="pipe", price=(Decimal(60), Decimal(140)))
    fitted = make_method(
        "new_pipe", skill=Skill.SPECIALIST, fixes=("rot",), fee=(Decimal(80), Decimal(140)), parts=(pipe,)
    )
    chosen = choose_methods(
        make_case(catalog=with_methods(make_catalog(), fitted), findings=(finding("leadpipe", "rot"),))
    )
    sent = chosen.send_out[0]
    assert (sent.fee_low_amount, sent.fee_high_amount, sent.parts) == (Decimal(140), Decimal(280), (pipe,))


def test_one_job_of_a_shop_is_paid_once_whatever_is_wrong_with_the_part():
    weak = (finding("leadpipe", "rot"), finding("leadpipe", "dent"), finding("bow", "rot"))
    case = make_case(findings=weak, bench=make_bench(tools=frozenset()), catalog=make_catalog(
        remedies=(Remedy(fault="rot", roles=(), methods=("new_pipe",)), Remedy(fault="dent", roles=(), methods=("new_pipe",)))
    ))  # fmt: skip
    chosen = choose_methods(case)
    bill_once(case, chosen=chosen)
    assert [(one.finding.part, one.fee_low_amount, one.is_shared) for one in chosen.send_out] == [
        ("leadpipe", Decimal(80), False), ("leadpipe", Decimal(0), True), ("bow", Decimal(80), False),
    ]  # fmt: skip


def test_a_new_tube_cures_the_rot_that_forbids_its_own_flame_and_what_else_is_wrong_with_the_old():
    guard = Guard(fault="rot", forbids=("flame",), because="it burns through")
    weld = make_method(
        "weld", fixes=("rot", "dent"), skill=Skill.SPECIALIST, tags=("flame",), fee=(Decimal(50), Decimal(90))
    )
    remedies = tuple(Remedy(fault=fault, roles=(), methods=("weld",)) for fault in ("rot", "dent"))
    catalog = with_methods(make_catalog(guards=(guard,), remedies=remedies), weld)
    chosen = choose_methods(
        make_case(catalog=catalog, findings=(finding("leadpipe", "rot"), finding("leadpipe", "dent")))
    )
    assert [(one.method, one.why) for one in chosen.send_out] == [("weld", "specialist work")] * 2


def test_each_step_and_each_ladder_keeps_the_findings_it_is_for():
    lime, stuck = finding("leadpipe", "lime"), finding("main_slide", "stuck")
    chosen = choose_methods(make_case(findings=(stuck, lime)))
    assert chosen.findings == {"bath": [lime], "free_slide:main_slide": [stuck]}
    assert [(climb.planned.key, rung.entry.code) for climb, rung in chosen.next_tries()] == [
        ("free_slide:main_slide", "hand")
    ]


def test_what_only_looks_bad_is_left_unless_it_is_asked_for_or_comes_along():
    stain = finding("finish", "stain")
    left = choose_methods(make_case(findings=(stain,)))
    assert (left.methods, [(one.finding, one.why) for one in left.leave]) == (
        {}, [(stain, "looks only: it does not affect playing")],
    )  # fmt: skip
    asked = choose_methods(make_case(findings=(stain,), is_looks_included=True))
    assert (asked.findings, asked.leave) == ({"bath": [stain]}, [])
    catalog = with_methods(
        make_catalog(remedies=(Remedy(fault="stain", roles=(), methods=("noted", "bath")),)),
        make_method("noted", fixes=("stain",), tags=("watch",)),
    )
    asked = choose_methods(make_case(catalog=catalog, findings=(stain,), is_looks_included=True))
    assert asked.findings == {"bath": [stain]}, "to leave it as it is does not put it right"
    lime = finding("leadpipe", "lime")
    assert choose_methods(make_case(findings=(stain, lime))).findings == {"bath": [lime, stain]}


@pytest.mark.parametrize(
    ("first", "second", "asked"),
    [
        ({}, {}, "first"),
        ({}, {"fee": (Decimal(5), Decimal(9))}, "second"),
        ({"fee": (Decimal(5), Decimal(9))}, {"fee": (Decimal(7), Decimal(9))}, "second"),
        ({"fee": (Decimal(5), Decimal(9)), "skill": Skill.SPECIALIST}, {"fee": (Decimal(7), Decimal(9))}, "first"),
    ],
    ids=["the gentlest", "the one with a fee", "the last with a fee", "a specialist's before it"],
)
def test_a_shop_is_asked_for_one_of_the_methods_this_bench_lacks(first, second, asked):
    methods = [
        make_method(code, **({"fixes": ("dent",), "skill": Skill.ADVANCED} | more))
        for code, more in (("first", first), ("second", second))
    ]
    remedies = (Remedy(fault="dent", roles=(), methods=("first", "second")),)
    chosen = choose_methods(
        make_case(catalog=with_methods(make_catalog(remedies=remedies), *methods), findings=(DENT,))
    )
    assert [(one.method, one.why) for one in chosen.send_out] == [(asked, chosen.send_out[0].why)]


def test_what_did_not_help_is_said_beside_what_this_bench_lacks():
    chosen = choose_methods(make_case(findings=(DENT,), attempts=(attempt("raise_dent:bow", Outcome.NOT_RIGHT),)))
    assert chosen.send_out[0].why == "tried here and still not right: Raise dent; specialist work"
