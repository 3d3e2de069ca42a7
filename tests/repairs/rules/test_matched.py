"""Which parts stay together (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

from inventory.catalog.load import catalog
from repairs.rules.matched import part_words, set_of, spots_words, still_there, takeable

TRADE = catalog()
SETS, ROLES = TRADE.fitted_sets, TRADE.roles


def parts(kind: str):
    return catalog().kinds[kind].parts_for({})


def test_pistons_stay_together():
    found = set_of(parts("trumpet"), part="piston", sets=SETS)
    assert [part for part, _ in found.members] == ["piston"] * 3


def test_a_rotor_takes_the_bearings_along():
    found = set_of(parts("horn_double"), part="rotor", sets=SETS)
    assert {part for part, _ in found.members} == {"rotor", "rotor_bearing"}
    assert set_of(parts("horn_double"), part="rotor_bearing", sets=SETS).members == found.members


def test_a_hand_slide_is_taken_with_inner_and_outer_tubes():
    found = set_of(parts("trombone"), part="outer_slide_tube", sets=SETS)
    assert {"inner_slide_tube", "outer_slide_tube"} <= {part for part, _ in found.members}


def test_the_keys_of_a_woodwind_stay_together():
    found = set_of(parts("flute"), part="thumb_keys", sets=SETS)
    assert {"trill_keys", "thumb_keys", "foot_keys"} <= {part for part, _ in found.members}


def test_a_set_takes_two():
    one, two = (replace(part, places=()) for part in parts("flute") if part.code in {"trill_keys", "thumb_keys"})
    assert set_of([one], part=one.code, sets=SETS) is None
    assert len(set_of([one, two], part=one.code, sets=SETS).members) == 2


def test_a_bell_goes_alone():
    assert set_of(parts("trumpet"), part="bell", sets=SETS) is None
    assert set_of(parts("trumpet"), part="no_such_part", sets=SETS) is None


def test_what_was_taken_is_not_there_any_more_and_nobody_takes_the_finish_or_old_felts():
    left = takeable(parts("trumpet"), roles=ROLES, missing={("bell", ""), ("piston", "2")})
    assert ("bell", "") not in left
    assert ("piston", "2") not in left
    assert {"finish", "upper_felt"} & {part for part, _ in left} == set()
    assert len(left) == len(takeable(parts("trumpet"), roles=ROLES)) - 2


def test_of_a_part_that_is_missing_no_place_is_left():
    assert still_there([("bell", ""), ("piston", "1"), ("piston", "2")], missing={("piston", "")}) == (("bell", ""),)


def test_what_is_taken_together_is_said_by_its_set():
    trumpet, horn = parts("trumpet"), parts("horn_double")
    assert spots_words(trumpet, [("piston", "1"), ("piston", "2")], sets=SETS) == "pistons, 2 as a set"
    assert spots_words(trumpet, [("bell", "")], sets=SETS) == "bell flare and rim"
    assert spots_words(horn, [("bell", ""), ("piston", "2")], sets=SETS) == "2 parts"


def test_a_part_unheard_of_is_still_named():
    assert part_words((), "old_part", "") == "old part"
