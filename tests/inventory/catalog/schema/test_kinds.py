"""What a kind answers about itself."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog

TUBA = catalog().kinds["tuba"]


def test_a_part_is_found_by_code():
    assert TUBA.part("leadpipe").name == "leadpipe"
    with pytest.raises(KeyError):
        TUBA.part("reed")


def test_options_rule_parts_and_places_in_and_out():
    usual = {part.code: part for part in TUBA.parts_for({})}
    three = {part.code: part for part in TUBA.parts_for({"valves": "3"})}
    rotary = {part.code for part in TUBA.parts_for({"valve_type": "rotary"})}
    assert "fourth_valve_slide" in usual
    assert [place.code for place in usual["piston"].places] == ["1", "2", "3", "4"]
    assert "fourth_valve_slide" not in three
    assert [place.code for place in three["piston"].places] == ["1", "2", "3"]
    assert "rotor" in rotary
    assert "rotor" not in usual


@pytest.mark.parametrize(
    ("only_with", "options", "has"),
    [
        ("", {}, True),
        ("valves=4", {}, True),
        ("valves=4", {"valves": "3"}, False),
        ("valve_type=rotary", {}, False),
        ("valve_type=rotary", {"valve_type": "rotary"}, True),
        ("no_such_option=yes", {}, False),
    ],
)
def test_an_option_that_is_not_named_counts_as_its_default(only_with, options, has):
    assert TUBA.has_chosen(only_with, options) is has


def test_what_is_cleaned_between_players_is_told_with_and_without_the_things_one_cleans_with():
    kinds = catalog().kinds
    assert [code for code, _ in kinds["clarinet_bb"].between_players()] == [
        "mouthpiece",
        "ligature",
        "cap",
        "swab",
        "reed",
    ]
    assert "swab" not in dict(kinds["clarinet_bb"].between_players(aids=False))
    assert "reed" in dict(kinds["clarinet_bb"].between_players(aids=False))
    flute = kinds["flute"].between_players(aids=False)
    assert [words for _, words in flute] == ["Lip plate wiped with alcohol, headjoint swabbed and dry"]
    assert kinds["timpani_set"].between_players() == ()


def test_a_kind_as_built_is_one_object():
    assert TUBA.built({"valves": "3"}) is TUBA.built({"valves": "3"})
    assert TUBA.built({"valves": "3"}).parts == TUBA.parts_for({"valves": "3"})
    trumpet = catalog().kinds["flute"]
    assert trumpet.built({}) is trumpet or trumpet.parts != trumpet.parts_for({})


@pytest.mark.parametrize(
    ("part", "place", "has"),
    [("piston", "", True), ("piston", "4", False), ("piston", "3", True), ("fourth_valve_slide", "", False)],
)
def test_has_knows_parts_and_places(part, place, has):
    assert TUBA.built({"valves": "3"}).has(part, place) is has


def test_a_lost_kind_says_so_and_is_one_object():
    assert catalog().kind("horn_alto") is catalog().kind("horn_alto")
    assert catalog().kind("horn_alto").name == "Horn alto (no longer in the catalog)"
    assert catalog().kind("tuba") is TUBA
