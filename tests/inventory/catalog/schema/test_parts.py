"""What the catalog says of parts holds together within each kind."""

from __future__ import annotations

import re
from itertools import product

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.names import resolve_part
from inventory.catalog.schema import MISSING_PART, Effect, Severity

KINDS = catalog().kinds


@pytest.mark.parametrize("code", KINDS)
def test_codes_of_parts_and_places_name_one_thing_each(code):
    parts = KINDS[code].parts
    codes = [part.code for part in parts]
    assert len(set(codes)) == len(codes)
    assert [name for name in codes if not re.fullmatch(r"[a-z0-9_]+", name)] == []
    for part in parts:
        places = [place.code for place in part.places]
        assert len(set(places)) == len(places), part.code


@pytest.mark.parametrize("code", KINDS)
def test_a_part_branches_off_one_that_the_kind_has(code):
    codes = {part.code for part in KINDS[code].parts}
    assert {part.drawn_on for part in KINDS[code].parts} - codes <= {""}


def test_only_what_can_be_missing_is_said_to_be():
    """Common practice, no source: a part of the body, or of what is soldered on, is broken but never missing."""
    body = {"finish", "leadpipe", "casing", "bow_tube", "solder_joint", "tone_hole", "tenon", "socket", "seam"}
    fixed = {role.code for role in catalog().roles.values() if "missing_part" not in role.faults}
    exact = {"brace", "felt", "screw", "adjusting_screw", "cork"}  # another fault of theirs says that it is gone
    assert fixed == body | {"receiver", "body_metal", "shell", "bell"} | exact
    sousaphone = KINDS["sousaphone"]
    assert "missing_part" in catalog().faults_at(sousaphone.part("neck_and_tuning_bits"))
    assert "missing_part" not in catalog().faults_at(sousaphone.part("mouthpiece_receiver"))


@pytest.mark.parametrize(
    ("kind", "part", "is_offered", "says_gone"),
    [
        ("trumpet", "bell", False, ""),
        ("sousaphone", "bell", True, ""),
        ("horn_double", "bell", True, ""),
        ("trumpet", "braces_and_finger_hooks", False, "brace_missing"),
        ("trumpet", "upper_felt", False, "felt_missing"),
        ("sax_alto", "strap_ring", False, "brace_missing"),
        ("sax_alto", "pivot_screws", False, "screw_missing"),
    ],
)
def test_what_older_records_call_missing_is_accepted_but_no_longer_offered(kind, part, is_offered, says_gone):
    spot, trade = KINDS[kind].part(part), catalog()
    assert ("missing_part" in trade.faults_offered(spot)) is is_offered
    assert "missing_part" in trade.faults_at(spot)
    assert not says_gone or says_gone in trade.faults_offered(spot)


@pytest.mark.parametrize("code", KINDS)
def test_a_brace_joins_parts_that_the_kind_has_or_could_have(code):
    layout = {part.code for kind in KINDS.values() if kind.layout == KINDS[code].layout for part in kind.parts}
    for part in KINDS[code].parts:
        for place in part.places:
            assert set(place.joins) <= layout, place.code
            assert bool(place.joins) == (part.role == "brace"), place.code


def test_which_brace_can_be_said_and_need_not_be():
    for code in ("trumpet", "trombone", "trombone_f", "horn_double", "tuba", "sousaphone"):
        braces = [part for part in KINDS[code].parts if part.role == "brace"]
        assert all(part.places for part in braces)
    assert resolve_part(KINDS["trumpet"], "braces_and_finger_hooks")[1] is None
    assert resolve_part(KINDS["trumpet"], "third slide ring")[1].joins == ("third_valve_slide",)


def test_a_part_is_said_with_its_place():
    piston = KINDS["trumpet"].part("piston")
    assert (piston.at("2"), piston.at("")) == ("pistons, valve 2", "pistons")


def test_a_place_that_the_catalog_has_no_more_keeps_its_code():
    assert KINDS["trumpet"].part("piston").at("9") == "pistons, 9"


# What gets worse or is not safe, and still may go out: common practice, no source.
WATCHED = {
    ("boot_rot", "light"): "a dark stain in firm wood is looked at by date",
    ("bridge_bad", "light"): "a bridge that leans a little is straightened at the next tuning",
    ("case_broken", "light"): "one weak latch, the others hold",
    ("case_broken", "moderate"): "a strap holds it shut until it is repaired",
    ("case_broken", "severe"): "a torn cover of what stays in its room lets dust in, nothing else",
    ("crack_brass", "light"): "a hairline that does not leak is looked at by date",
    ("cord_frayed", "light"): "a few threads of a cord that carries no more than bars",
    ("red_rot", "light"): "spots are slow wear, looked at by date",
    ("red_rot", "moderate"): "spots in firm metal are slow wear, looked at by date",
    ("ring_loose", "light"): "it still turns with force only, so it still holds",
    ("rotor_string", "light"): "a broken valve string costs a note and a quarter hour, nothing else",
    ("rotor_string", "moderate"): "the same",
    ("rotor_string", "severe"): "the same",
    ("seam_open", "light"): "a short gap that does not buzz waits for the next visit to the shop",
    ("seam_open", "moderate"): "the same for one that buzzes, strings at pitch or not",
    ("tenon_tight", "light"): "it goes together; whoever hands it out shows how to hold the bridge key up",
    ("slide_stop_missing", "light"): "it still holds",
    ("slide_stop_missing", "moderate"): "the slide stays on by itself",
    ("tail_gut_worn", "light"): "stretched, not frayed",
    ("surface_dezincification", "severe"): "surface wear, looked at by date",
}
WATCHED |= {
    ("missing_part", severity): "small fittings; the case is an essential accessory" for severity in map(str, Severity)
}


def test_whatever_gets_worse_or_is_not_safe_keeps_it_in_or_is_watched_for_a_reason():
    trade, unmarked = catalog(), set()
    for kind, part in ((one, part) for one in KINDS.values() for part in one.parts):
        role = trade.roles[part.role]
        for fault, severity in product((trade.faults[code] for code in trade.faults_at(part)), Severity):
            effects = (role.missing,) if fault.code == MISSING_PART else fault.effects[severity]
            marked = any(kind.fits(mark) and mark.holds(part, severity) for mark in fault.never_issue)
            if not {Effect.RISKS, Effect.UNSAFE}.isdisjoint(effects) and not marked:
                unmarked.add((fault.code, str(severity)))
    assert unmarked == set(WATCHED)


def test_a_mark_that_holds_for_a_severity_holds_for_every_worse_one():
    for fault in catalog().faults.values():
        for part in (part for kind in KINDS.values() for part in kind.parts):
            held = [any(mark.holds(part, severity) for mark in fault.never_issue) for severity in Severity]
            assert held == sorted(held), (fault.code, part.code)
