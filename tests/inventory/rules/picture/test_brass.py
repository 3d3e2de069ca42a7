"""Valve brass: loops leave and rejoin their valve, a double horn has two sides."""

from __future__ import annotations

from math import hypot

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.rules.picture.air_path import air_path
from inventory.rules.picture.brass import (
    grouped,
    horn,
    ordinal_of,
    piston,
    valve_count,
    valve_loops,
    weight_of,
)
from inventory.rules.picture.shapes import Figure
from tests.inventory.rules.picture.approved import approved, digests


def make_part(name: str, *, role: str = "valve_slide") -> Part:
    return Part(code=name.replace(" ", "_"), name=name, role=role)


@pytest.mark.parametrize(("name", "number"), [("first valve slide", 1), ("third slide water key", 3), ("leadpipe", 0)])
def test_a_part_says_which_valve_it_belongs_to(name, number):
    assert ordinal_of(make_part(name)) == number


def test_a_trumpet_shows_three_valves_and_a_euphonium_four():
    kinds = catalog().kinds
    assert valve_count(kinds["trumpet"]) == 3
    assert valve_count(kinds["euphonium"]) == 4


def test_lower_horns_are_drawn_heavier():
    kinds = catalog().kinds
    assert weight_of(kinds["trumpet"]) < weight_of(kinds["euphonium"]) < weight_of(kinds["tuba"])


@pytest.mark.parametrize("valves", [3, 4])
def test_each_loop_leaves_and_rejoins_its_own_valve(valves):
    xs = [100.0 + 42 * i for i in range(valves)]
    loops = valve_loops(Figure(width=328, height=0), xs, y=112, heavy=1)
    for number, track in loops.items():
        for x, y in (track.points[0], track.points[-1]):
            assert abs(x - xs[number - 1]) <= 12
            assert 112 - 26 <= y <= 112 + 42


def test_the_second_loop_is_the_shortest_and_the_third_the_longest_of_three():
    loops = valve_loops(Figure(width=328, height=0), [110.0, 152.0, 194.0], y=112, heavy=1)
    assert loops[2].length < loops[1].length < loops[3].length


def test_valve_slides_stand_on_the_loop_of_their_valve():
    kind = catalog().kinds["trumpet"]
    figure = piston(kind, list(kind.parts), width=328)
    first, second, third = (figure.spots[f"{word}_valve_slide"] for word in ("first", "second", "third"))
    assert first[0] < second[0] < third[0]
    assert (
        hypot(third[0] - figure.spots["third_slide_water_key"][0], third[1] - figure.spots["third_slide_water_key"][1])
        > 20
    )


def test_the_inside_of_a_valve_is_laid_out_in_a_row():
    kind = catalog().kinds["trumpet"]
    groups = grouped(kind.parts, valves=3)
    figure = piston(kind, list(kind.parts), width=328)
    assert {part.role for part in groups.inside} >= {"piston", "casing", "valve_spring", "valve_guide"}
    assert len({figure.spots[part.code][1] for part in groups.inside}) == 1


def test_a_double_horn_has_an_f_side_above_its_b_flat_side_and_a_single_horn_has_neither():
    kinds = catalog().kinds
    double = horn(kinds["horn_double"], list(kinds["horn_double"].parts), width=328)
    sides = {caption.text: caption.y for caption in double.captions}
    assert sides["F side"] < sides["B♭ side"]
    slides = [part for part in kinds["horn_double"].parts if part.role == "valve_slide"]
    assert double.spots[slides[0].code][1] < double.spots[slides[1].code][1]
    single = air_path(kind=kinds["horn_single"], marks={}, width="phone")
    assert not [caption for caption in single.captions if caption.text.endswith(" side")]


@pytest.mark.parametrize("code", ["trumpet", "mellophone", "horn_double", "horn_single", "flugelhorn"])
def test_the_picture_is_the_one_that_was_looked_at(code):
    assert digests(code) == approved(code)
