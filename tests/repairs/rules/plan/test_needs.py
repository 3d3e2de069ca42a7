"""What must be done first, and whether it can be; what puts the instrument together again. Common practice, no source."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Effect, Family, Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, plan_work
from repairs.rules.plan.choose import LOOKS_ONLY
from repairs.rules.plan.needs import all_needs, cleaning_method, direct_needs, is_settled, needs_of
from tests.repairs.rules.plan.test_case import make_case
from tests.repairs.rules.small_trade import (
    attempt,
    make_bench,
    make_catalog,
    make_kind,
    make_method,
    make_part,
    with_methods,
)


def test_needs_of_needs_come_first():
    found = all_needs(make_case(), codes=("bath",), part="brace", place="")
    assert [needed.key for needed in found.found] == ["take_felts_out", "bath"]


def test_a_need_for_a_role_that_the_kind_lacks_falls_away():
    bare = make_case(kind=make_kind(parts=(make_part("leadpipe", "leadpipe"),)))
    assert [needed.key for needed in all_needs(bare, codes=("bath",), part="", place="").found] == ["bath"]


def test_what_is_done_is_not_needed_again():
    case = make_case(attempts=(attempt("bath", Outcome.DONE),))
    assert all_needs(case, codes=("bath",), part="", place="").found == ()
    assert [one.key for one in direct_needs(case, codes=("bath",), part="", place="")] == ["bath"]


def test_a_knowing_skip_settles_a_need_and_a_stop_does_not():
    assert is_settled(make_case(attempts=(attempt("bath", Outcome.SKIPPED),)), "bath")
    assert not is_settled(make_case(attempts=(attempt("bath", Outcome.STOPPED),)), "bath")


def test_a_need_that_cannot_be_had_says_why():
    case = make_case(bench=make_bench(tools=frozenset()))
    assert (
        all_needs(case, codes=("bath",), part="", place="").refusal == "it needs “Bath” first, but no tub at this bench"
    )


def test_a_need_at_a_part_stays_at_that_part():
    case = make_case(catalog=with_methods(make_catalog(), make_method("scrape")))
    assert [one.key for one in all_needs(case, codes=("scrape",), part="bow", place="x").found] == ["scrape:bow:x"]


def test_a_ladder_is_climbed_for_a_finding_never_for_a_need():
    assert direct_needs(make_case(), codes=("free_slide",), part="bow", place="") == ()


def test_the_quickest_wet_cleaning_of_the_whole_takes_oil_off():
    quick = make_method("rinse", tags=("wet", "clean"), whole=True, minutes=(5, 10, 20))
    dry = make_method("air", tags=("clean", "dry_clean"), whole=True, minutes=(1, 2, 3))
    found = cleaning_method(make_case(catalog=with_methods(make_catalog(), quick, dry)))
    assert found == quick
    assert cleaning_method(make_case(bench=make_bench(tools=frozenset()))) is None


def test_a_method_needs_more_at_a_part_of_some_roles():
    solder = make_method("solder", needs=("bath",), needs_at={"bow": ("strip",)}, fixes=("loose",))
    case = make_case(catalog=with_methods(make_catalog(), solder, make_method("strip", phase=3)))
    assert needs_of(case, solder, part="bow") == ("bath", "strip")
    assert needs_of(case, solder, part="brace") == needs_of(case, solder, part="") == ("bath",)


# putting together, on the catalog as it is

TOGETHER = "reassemble_brass"


def plan_for(kind: str, *findings: tuple[str, str], attempts=()) -> Plan:
    trade = catalog()
    return plan_work(
        kind=trade.kinds[kind],
        catalog=trade,
        findings=[FindingFact(part, fault, Severity.MODERATE) for part, fault in findings],
        bench=bench_profile("full", catalog=trade),
        attempts=attempts,
    )


def methods(plan: Plan) -> list[str]:
    return [step.method for step in plan.steps]


@pytest.mark.parametrize("kind", ["trumpet", "euphonium", "trombone"])
def test_after_a_bath_it_is_dried_oiled_and_put_together_before_it_is_played(kind):
    assert methods(plan_for(kind, ("leadpipe", "lime_scale")))[-3:] == ["soap_bath_brass", TOGETHER, "play_test"]


@pytest.mark.parametrize("kind", ["horn_double", "trombone_f"])
def test_bumpers_and_strings_come_off_before_the_bath_and_go_back_on_oiled_rotors(kind):
    found = methods(plan_for(kind, ("leadpipe", "lime_scale")))
    assert found.index("remove_bumpers") < found.index("soap_bath_brass")
    assert found[-4:] == ["soap_bath_brass", TOGETHER, "fit_bumpers", "play_test"]


def test_rotors_are_oiled_before_their_bumpers_and_strings_go_back_on():
    found = methods(plan_for("horn_single", ("leadpipe", "lime_scale"), ("rotor", "rotor_sluggish")))
    assert found.index(TOGETHER) < found.index("oil_rotor") < found.index("fit_bumpers")


def test_an_endpin_that_slips_takes_no_part_of_a_woodwind():
    """Common practice, no source: rod and screw are cleaned and tightened."""
    plan = plan_for("cello", ("endpin", "endpin_slip"))
    assert [step.parts for step in plan.steps if step.method == "endpin_service"] == [()]


def test_advice_for_one_kind_names_it_where_a_method_serves_several():
    trade = catalog()
    assert all(line.startswith(("Saxophone: ", "Oboe: ")) for line in trade.methods["octave_adjust"].watch)
    valves = [line for line in trade.methods[TOGETHER].watch if "caps" in line or "casing" in line]
    assert [line.split(":")[0] for line in valves] == ["If it has valves", "If it has pistons"]
    triggers = [line for line in trade.play_tests["trombone"].play if "trigger" in line]
    assert triggers == ["If it has a trigger: fast on C-B♭"]
    test = trade.play_tests["rotary_horn"]
    thumbs = [line for line in (*test.play, *test.passes, *test.limits) if "thumb" in line.lower() or "B♭ side" in line]
    assert all("double" in line or line.startswith("If it has") for line in thumbs)
    assert "Both sides" not in test.passes


def test_new_felts_and_corks_go_in_before_it_is_put_together():
    found = methods(
        plan_for("trumpet", ("leadpipe", "lime_scale"), ("upper_felt", "felt_missing"), ("valve_spring", "spring_weak"))
    )
    assert max(found.index("valve_felts"), found.index("valve_springs")) < found.index(TOGETHER)


def test_nothing_is_put_together_that_was_not_taken_apart():
    assert TOGETHER not in methods(plan_for("trumpet", ("tuning_slide_water_key", "water_key_leak")))
    assert TOGETHER not in methods(plan_for("clarinet_bb", ("throat_keys", "pad_sticky")))


def test_what_lies_apart_stays_owed_until_it_is_together_and_then_may_come_apart_again():
    lime = ("leadpipe", "lime_scale")
    apart = [attempt(key, Outcome.DONE) for key in ("remove_felts", "remove_pistons", "soap_bath_brass")]
    assert methods(plan_for("trumpet", lime, attempts=apart)) == [TOGETHER, "play_test"]
    together = [*apart, attempt(TOGETHER, Outcome.DONE)]
    assert methods(plan_for("trumpet", lime, attempts=together)) == ["play_test"]
    again = plan_for("trumpet", lime, ("finger_button", "stem_bent"), attempts=together)
    assert methods(again) == ["remove_pistons", "stem_straighten", TOGETHER, "play_test"]


def test_a_bent_body_gets_its_keys_back_before_they_are_regulated():
    trade = catalog()
    able = bench_profile("full", catalog=trade)
    plan = plan_work(
        kind=trade.kinds["sax_alto"],
        catalog=trade,
        findings=[
            FindingFact("bow_and_brace", "body_bent_sax", Severity.MODERATE),
            FindingFact("gs_key", "regulation_off", Severity.MODERATE),
        ],
        bench=type(able)(
            code=able.code,
            tools=frozenset(trade.tools),
            methods=frozenset(trade.methods),
            has_torch=True,
            has_chemicals=True,
            rate_amount=able.rate_amount,
        ),
    )
    assert methods(plan) == [
        "strip_keys", "sax_body_straighten", "mount_keys", "regulate", "leak_test", "play_test",
    ]  # fmt: skip


@pytest.mark.parametrize(("kind", "part"), [("trumpet", "case"), ("bell_kit", "case"), ("bassoon", "bell")])
def test_mold_is_aired_apart_and_then_cleaned(kind, part):
    found = methods(plan_for(kind, (part, "odor_mold")))
    assert found[0] == "quarantine_air"
    assert found[1] in {"mold_case", "mold_clean"}


def test_every_brass_may_be_bathed():
    trade = catalog()
    brass = [kind.code for kind in trade.kinds.values() if kind.family is Family.BRASS]
    bathed = [code for code in brass if "soap_bath_brass" in methods(plan_for(code, ("leadpipe", "lime_scale")))]
    assert bathed == brass != []


TRADE = catalog()
ONLY_KEPT_IN = [
    (kind, FindingFact(part.code, code, severity, part.places[0].code if part.places else ""))
    for kind in TRADE.kinds.values()
    for part in kind.parts
    for code in TRADE.faults_offered(part)
    if (fault := TRADE.faults.get(code)) is not None
    for severity in Severity
    if fault.worst(severity) is Effect.LOOKS_ONLY and kind.kept_in_by(fault, part=part, severity=severity)
]


@pytest.mark.parametrize(("kind", "finding"), ONLY_KEPT_IN, ids=str)
@pytest.mark.parametrize("bench", ["school", "full"])
def test_what_keeps_an_instrument_in_is_not_left_for_its_looks(kind, finding, bench):
    """A strap ring that is gone takes nothing from playing, but the instrument falls without it."""
    plan = plan_work(kind=kind, catalog=TRADE, findings=[finding], bench=bench_profile(bench, catalog=TRADE))
    assert LOOKS_ONLY not in [one.why for one in plan.leave]
