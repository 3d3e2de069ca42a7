from dataclasses import replace

import pytest

from inventory.catalog.schema import Effect, FaultWay, RoleTag
from inventory.rules.playing.readings import (
    effects_of,
    read_findings,
    side_of,
    valve_of,
)
from tests.inventory.rules.cases import CATALOG, KINDS, make_finding

TRADE = {"faults": CATALOG.faults, "roles": CATALOG.roles}


@pytest.mark.parametrize(
    ("kind", "text", "valve"),
    [
        ("trumpet", "piston_2", "2"),
        ("trumpet", "third_valve_slide", "3"),
        ("trumpet", "third_slide_water_key", "3"),
        ("trumpet", "main_tuning_slide", ""),
        ("euphonium", "fourth_valve_slide", "4"),
        ("horn_double", "rotor_thumb", "T"),
        ("horn_double", "valve_slide_bb_side_1", "1"),
        ("trombone_f", "f_attachment_tuning_slide", "T"),
    ],
)
def test_a_part_belongs_to_its_valve(kind, text, valve):
    finding = make_finding(kind, f"{text}:missing_part:severe")
    assert valve_of(KINDS[kind].part(finding.part), place=finding.place) == valve


@pytest.mark.parametrize(
    ("kind", "text", "side"),
    [
        ("horn_double", "valve_slide_bb_side_1", "Bb"),
        ("horn_double", "valve_slide_f_side_1", "F"),
        ("horn_double", "main_tuning_slide", ""),
        ("trombone_f", "f_attachment_tuning_slide", ""),
        ("trumpet", "piston_1", ""),
    ],
)
def test_a_part_belongs_to_its_side(kind, text, side):
    finding = make_finding(kind, f"{text}:missing_part:severe")
    assert side_of(KINDS[kind].part(finding.part), place=finding.place) == side


def test_a_missing_part_does_what_its_role_says():
    finding = make_finding("trumpet", "mouthpiece:missing_part:severe")
    part = KINDS["trumpet"].part("mouthpiece")
    assert effects_of(finding, part=part, **TRADE) == (Effect.STOPS_SOUND,)


def test_what_the_catalog_no_longer_has_does_nothing_but_a_missing_part_is_a_risk():
    part = KINDS["trumpet"].part("mouthpiece")
    stuck = make_finding("trumpet", "mouthpiece:mouthpiece_stuck:severe")
    gone = make_finding("trumpet", "mouthpiece:missing_part:severe")
    assert effects_of(stuck, part=part, faults={}, roles={}) == (Effect.LOOKS_ONLY,)
    assert effects_of(gone, part=part, faults={}, roles={}) == (Effect.RISKS,)
    (reading,) = read_findings(kind=KINDS["trumpet"], options={}, findings=[stuck], faults={}, roles={})
    assert (reading.tags, reading.ways, reading.lost) == ((), (), "")


def test_a_finding_carries_what_the_catalog_says_of_its_role_and_fault():
    finding = make_finding("trombone", "outer_slide_tube:dent_slide_leg:severe")
    (reading,) = read_findings(kind=KINDS["trombone"], options={}, findings=[finding], **TRADE)
    assert RoleTag.HAND_SLIDE in reading.tags
    assert reading.ways == (FaultWay.HALTS, FaultWay.STANDS)
    string = make_finding("violin", "strings_II:string_broken:light")
    (reading,) = read_findings(kind=KINDS["violin"], options={}, findings=[string], **TRADE)
    assert reading.lost == "the second string"


@pytest.mark.parametrize(
    ("text", "lost"),
    [("strings_II:string_broken:light", "the II string"), ("strings:string_broken:light", "the broken string")],
)
def test_a_role_of_a_district_may_name_the_place_by_its_code(text, lost):
    roles = {**CATALOG.roles, "string": replace(CATALOG.roles["string"], lost="the {place} string")}
    findings = [make_finding("violin", text)]
    (reading,) = read_findings(kind=KINDS["violin"], options={}, findings=findings, faults=CATALOG.faults, roles=roles)
    assert reading.lost == lost


def test_a_finding_at_a_part_the_instrument_does_not_have_says_nothing():
    finding = make_finding("euphonium", "fourth_valve_slide:slide_seized:severe")
    three = read_findings(kind=KINDS["euphonium"], options={"valves": "3"}, findings=[finding], **TRADE)
    four = read_findings(kind=KINDS["euphonium"], options={"valves": "4"}, findings=[finding], **TRADE)
    assert (len(three), len(four)) == (0, 1)


def one_reading(kind: str, text: str):
    (reading,) = read_findings(kind=KINDS[kind], options={}, findings=[make_finding(kind, text)], **TRADE)
    return reading


@pytest.mark.parametrize(
    ("kind", "text", "true"),
    [
        ("trumpet", "piston_2:valve_stuck:severe", {"loses", "is_on_air_path"}),
        ("trumpet", "piston:valve_swapped:severe", {"stops", "is_on_air_path"}),
        ("trumpet", "mouthpiece:missing_part:severe", {"stops", "is_gone", "is_on_air_path"}),
        ("trumpet", "third_valve_slide:slide_seized:light", {"is_fixed", "is_on_air_path"}),
        ("trombone", "outer_slide_tube:dent_slide_leg:severe", {"loses", "is_fixed", "is_on_air_path"}),
        ("trombone", "outer_slide_tube:dent_slide_leg:light", {"is_on_air_path"}),
        ("trumpet", "case:case_broken:severe", set()),
    ],
)
def test_what_a_reading_says_of_itself(kind, text, true):
    reading = one_reading(kind, text)
    names = {"stops", "loses", "is_gone", "is_fixed", "is_on_air_path"}
    assert {name for name in names if getattr(reading, name)} == true


def test_only_the_instruments_own_springs_are_missed_as_springs():
    assert one_reading("trumpet", "valve_spring_2:missing_part:severe").lacks_spring("valve_spring")
    assert not one_reading("trumpet", "valve_spring_2:missing_part:severe").lacks_spring("spring")
    assert not one_reading("trumpet", "mouthpiece:missing_part:severe").lacks_spring("valve_spring")
