"""Step keys, what forbids, and what a bench lacks."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Bath, Guard, Severity, Skill
from inventory.rules.facts import FindingFact
from repairs.rules.effort import MethodTimes
from repairs.rules.facts import Outcome
from repairs.rules.odds import Odds
from repairs.rules.plan.case import Case, is_flame, step_key
from tests.repairs.rules.small_trade import (
    attempt,
    finding,
    make_bench,
    make_catalog,
    make_kind,
    make_method,
    make_part,
    make_rung,
    with_methods,
)


def make_case(**overrides: Any) -> Case:
    values: dict[str, Any] = {
        "kind": make_kind(),
        "catalog": make_catalog(),
        "findings": (),
        "bench": make_bench(),
        "attempts": (),
        "odds": Odds(),
        "times": MethodTimes(),
        "effects": None,
        "retry": frozenset(),
        "waiting_day_amount": Decimal(0),
        "is_looks_included": False,
    }
    return Case(**(values | overrides))


def test_a_key_names_method_part_place_and_rung():
    assert step_key(method="bath") == "bath"
    assert step_key(method="cork", part="key") == "cork:key"
    assert step_key(method="cork", part="key", place="A") == "cork:key:A"
    assert step_key(method="free", part="slide", rung="oil") == "free:slide::oil"


@pytest.mark.parametrize(
    ("words", "burns"),
    [({"tags": ("flame",)}, True), ({"tags": (), "tools": ("torch",)}, True), ({"tags": ("heat",)}, False)],
)
def test_a_flame_is_known_by_its_tag_or_tool(words, burns):
    assert is_flame(**words) is burns


def test_the_latest_outcome_counts_unless_it_is_asked_for_again():
    tries = (attempt("bath", Outcome.STOPPED), attempt("bath", Outcome.DONE))
    assert make_case(attempts=tries).outcome("bath") is Outcome.DONE
    assert make_case(attempts=tries, retry=frozenset({"bath"})).outcome("bath") is None


def forbidden(case: Case, *tags: str, part: str = "", wait_h: str = "0", is_whole: bool = False) -> str:
    return case.forbidden(tags=tags, part=part, wait_h=Decimal(wait_h), is_whole=is_whole)


def test_a_guard_holds_for_its_part_or_the_whole_instrument():
    case = make_case(findings=(finding("bow", "rot"),))
    assert forbidden(case, "force", part="bow") == "rotted tube tears when it is forced"
    assert forbidden(case, "force", part="leadpipe") == ""
    assert forbidden(case, "force", is_whole=True) != ""
    wide = Guard(fault="rot", forbids=("force",), because="no", scope="instrument")
    assert forbidden(replace(case, catalog=make_catalog(guards=(wide,))), "force", part="leadpipe") == "no"


def test_a_guard_may_spare_light_cases():
    severe = Guard(fault="rot", forbids=("force",), because="no", severities=(Severity.SEVERE,))
    case = make_case(catalog=make_catalog(guards=(severe,)), findings=(finding("bow", "rot", Severity.LIGHT),))
    assert forbidden(case, "force", part="bow") == ""


def test_a_part_that_may_only_get_wet_briefly_is_not_soaked():
    case = make_case()
    assert forbidden(case, "wet", part="water_key", wait_h="0.2") == ""
    assert forbidden(case, "wet", part="water_key", wait_h="2") == "the water key must not be soaked"
    assert forbidden(case, "wet", part="felt") == "the felt must stay dry"
    assert forbidden(case, "wet", part="leadpipe", wait_h="12") == ""


def test_a_dry_part_that_cannot_come_off_keeps_the_instrument_out_of_the_bath():
    parts = tuple(replace(part, bath=part.bath.STAY) if part.code == "felt" else part for part in make_kind().parts)
    case = make_case(kind=make_kind(parts=parts))
    assert forbidden(case, "wet", is_whole=True) == "the felt cannot come off and must stay dry"


def test_training_in_a_ladder_covers_its_advanced_rungs_but_no_specialist_s():
    case = make_case(bench=make_bench(methods=frozenset({"free_slide"})))
    ladder, method = case.catalog.ladders["slide"], case.catalog.methods["free_slide"]
    assert case.lacking_for_rung(make_rung("x", skill=Skill.ADVANCED), ladder=ladder, method=method) == ""
    special = make_rung("x", skill=Skill.SPECIALIST)
    assert case.lacking_for_rung(special, ladder=ladder, method=method) == "specialist work"
    able = make_case(bench=make_bench(methods=frozenset({"slide.x"})))
    assert able.lacking_for_rung(special, ladder=ladder, method=method) == ""


def test_basic_methods_need_no_training_entry():
    case = make_case(bench=make_bench(methods=frozenset()))
    assert case.lacking_for(make_method("x")) == ""
    assert case.lacking_for(make_method("x", skill=Skill.ADVANCED)) == "nobody at this bench is trained for it"


def test_oil_counts_until_the_next_bath():
    oil, bath = attempt("free_slide:main_slide::oil", Outcome.STILL_STUCK), attempt("bath", Outcome.DONE)
    assert make_case(attempts=(oil,)).is_oiled
    assert not make_case(attempts=(oil, bath)).is_oiled
    assert make_case(attempts=(bath, oil)).is_oiled
    assert not make_case(attempts=(attempt("free_slide:main_slide::oil", Outcome.SKIPPED),)).is_oiled


def test_a_dry_cleaning_takes_oil_off_only_where_nothing_goes_into_a_bath():
    dry = make_kind(parts=(make_part("barrel", "brace", bath=Bath.NONE),))
    assert make_case(kind=dry).cleans_oil({"clean", "dry_clean"})
    assert not make_case().cleans_oil({"clean", "dry_clean"})
    assert make_case().cleans_oil({"clean", "wet"})
    assert not make_case().cleans_oil({"clean", "wet", "quarantine"})
    assert not make_case().cleans_oil({"wet"})


def test_a_bath_must_not_reach_what_stays_dry():
    assert make_case().dry_parts == ("felt", "case")


def test_a_part_that_may_get_wet_briefly_stands_half_an_hour_at_most():
    """The water key may get wet briefly; half an hour is common practice, no source."""
    case = make_case()
    soak = {"tags": frozenset({"wet"}), "part": "water_key", "is_whole": False}
    assert case.wetted(wait_h=Decimal("0.5"), **soak) == ""
    assert case.wetted(wait_h=Decimal("0.51"), **soak) == "the water key must not be soaked"


def test_what_a_catalog_has_dropped_leaves_no_tags():
    known, gone = attempt("free_slide:main_slide::oil", Outcome.FREED), attempt("polish", Outcome.DONE)
    assert make_case().tags_of(known) == {"oil"}
    assert make_case().tags_of(gone) == frozenset()
    assert make_case().catalog.rung("free_slide", "sing") is None


def test_putting_back_clears_what_was_owed():
    strip = make_method("strip", tags=("strip",), put_back=("mount",))
    catalog = with_methods(make_catalog(), strip, make_method("mount"))
    apart = attempt("strip", Outcome.DONE)
    assert make_case(catalog=catalog, attempts=(apart,)).owed == {"mount"}
    for outcome, owed in ((Outcome.DONE, set()), (Outcome.SKIPPED, set()), (Outcome.NOT_RIGHT, {"mount"})):
        assert make_case(catalog=catalog, attempts=(apart, attempt("mount", outcome))).owed == owed


# Two people lift it: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "method", "is_lifted"),
    [
        ("sousaphone", "dent_ball", True),
        ("tuba", "remove_pistons", True),
        ("timpani_set", "hoop_replace", True),
        ("marimba", "frame_service", True),
        ("euphonium", "remove_pistons", False),
        ("trumpet", "dent_ball", False),
        ("tuba", "play_test", False),
    ],
)
def test_every_bench_step_on_a_heavy_instrument_has_the_caution_about_lifting(kind, method, is_lifted):
    trade = catalog()
    cautions = [one.code for one in make_case(kind=trade.kinds[kind], catalog=trade).cautions(trade.methods[method])]
    assert cautions.count("lift") == is_lifted
    assert set(cautions) - {"lift", "bio"} == set(trade.methods[method].hazards) - {"lift", "bio"}
    assert trade.hazards["lift"].acknowledge


@pytest.mark.parametrize(
    ("kind", "is_warned"),
    [
        ("trumpet", True),
        ("clarinet_bb", True),
        ("oboe", True),
        ("flute", True),
        ("cello", False),
        ("timpani_set", False),
    ],
)
def test_nobody_is_warned_of_shared_mouths_where_no_mouth_touches_it(kind, is_warned):
    trade = catalog()
    cautions = make_case(kind=trade.kinds[kind], catalog=trade).cautions(trade.methods["play_test"])
    assert ("bio" in {one.code for one in cautions}) is is_warned


# A pull, twist or blow tears what is rotted beside it: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "worked_at", "rotted", "fault", "is_guarded"),
    [
        ("trumpet", "leadpipe", "leadpipe", "red_rot", True),
        ("trumpet", "main_tuning_slide", "leadpipe", "red_rot", True),
        ("trumpet", "mouthpiece", "leadpipe", "red_rot", True),
        ("trumpet", "main_tuning_slide", "bell_bow", "red_rot", True),
        ("trumpet", "third_valve_slide", "leadpipe", "red_rot", False),
        ("trombone", "main_tuning_slide", "neckpipe", "red_rot", True),
        ("bassoon", "wing_tenon", "boot_joint", "boot_rot", True),
        ("bassoon", "long_tenon", "boot_joint", "boot_rot", True),
        ("bassoon", "bell", "boot_joint", "boot_rot", False),
    ],
)
def test_rot_guards_what_is_joined_to_it(kind, worked_at, rotted, fault, is_guarded):
    trade = catalog()
    rot = FindingFact(part=rotted, fault=fault, severity=Severity.LIGHT)
    case = make_case(kind=trade.kinds[kind], catalog=trade, findings=(rot,))
    assert bool(list(case.guards_against({"force"}, part=worked_at, is_whole=False))) == is_guarded


def test_a_method_is_for_a_part_that_is_there_and_not_missing():
    wash = make_method("wash", whole=True, roles=("leadpipe", "brace"))
    lead, brace = finding("leadpipe", "missing_part"), finding("brace", "missing_part")
    assert make_case().is_there(wash)
    assert make_case(findings=(lead, finding("brace", "dent"))).is_there(wash)  # the other one is there
    assert not make_case(findings=(lead, brace)).is_there(wash)
    assert not make_case().is_there(make_method("wash", roles=("reed",)))
    assert make_case(findings=(lead, brace)).is_there(make_method("wash"))
