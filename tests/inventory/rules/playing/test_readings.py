import pytest

from inventory.catalog.schema import Effect
from inventory.rules.playing.readings import (
    DEFAULT_EFFECTS,
    effect_of,
    millimeters,
    position,
    read_findings,
    side_of,
    valve_of,
)
from tests.inventory.rules.cases import CATALOG, KINDS, make_finding

HEARD = {Effect.BENDS_PITCH, Effect.LOSES_NOTES, Effect.STOPS_SOUND}


def test_the_built_in_effects_are_those_of_the_catalog():
    differ = {
        code: effects
        for code, effects in DEFAULT_EFFECTS.items()
        if dict(CATALOG.faults[code].effects) != dict(effects)
    }
    assert differ == {}


def test_every_fault_that_can_take_a_note_has_a_built_in_effect():
    taking = {
        code
        for code, fault in CATALOG.faults.items()
        if {Effect.LOSES_NOTES, Effect.STOPS_SOUND} & set(fault.effects.values())
    }
    assert taking - DEFAULT_EFFECTS.keys() == {"missing_part"}


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
    assert effect_of(finding, part=part, roles=CATALOG.roles) is Effect.STOPS_SOUND
    assert effect_of(finding, part=part) is Effect.STOPS_SOUND


def test_what_a_detail_states():
    assert millimeters("pulled 12 mm") == 12
    assert millimeters("pulled 12.5mm") == 12.5
    assert millimeters("pulled out") is None
    assert position("stops at position 4") == 4
    assert position("Pos. 5") == 5
    assert position("half way") is None


def test_a_finding_at_a_part_the_instrument_does_not_have_says_nothing():
    finding = make_finding("euphonium", "fourth_valve_slide:slide_seized:severe")
    three = read_findings(kind=KINDS["euphonium"], options={"valves": "3"}, findings=[finding])
    four = read_findings(kind=KINDS["euphonium"], options={"valves": "4"}, findings=[finding])
    assert (len(three), len(four)) == (0, 1)
