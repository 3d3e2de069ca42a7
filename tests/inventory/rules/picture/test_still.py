"""Drums, kettles, bars and strings: each part stands where it is on the instrument."""

from __future__ import annotations

from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.rules.picture.shapes import Figure
from inventory.rules.picture.still import bars, drum, kettle, plates, settle, strings


def test_the_batter_head_is_seen_from_above_and_the_snare_side_from_the_side():
    kind = catalog().kinds["snare_kit"]
    figure = drum(kind, list(kind.parts), width=328)
    assert figure.spots["batter_head"][0] < 164 < figure.spots["snare_side_head"][0]


def test_the_pedal_of_a_kettledrum_is_below_its_bowl():
    kind = catalog().kinds["timpani_set"]
    figure = kettle(kind, list(kind.parts), width=328)
    by_role = {part.role: figure.spots[part.code] for part in kind.parts if part.code in figure.spots}
    assert by_role["head"][1] < by_role["shell"][1] or by_role["head"][1] < by_role["pedal"][1]
    assert by_role["pedal"][1] == max(y for _, y in figure.spots.values())


def test_accidentals_lie_above_naturals():
    kind = catalog().kinds["bell_kit"]
    figure = bars(kind, list(kind.parts), width=328)
    assert figure.spots["bars_accidentals"][1] < figure.spots["bars_naturals"][1]


def test_the_bridge_of_a_violin_is_between_fittings_and_pegs():
    kind = catalog().kinds["violin"]
    figure = strings(kind, list(kind.parts), width=328)
    assert figure.spots["fittings"][0] < figure.spots["bridge"][0] < figure.spots["pegs"][0]


def test_a_part_without_a_free_place_is_left_over():
    figure = Figure(width=100, height=100)
    settle(figure, [Part("a", "a", "head"), Part("b", "b", "head"), Part("c", "c", "odd")], {"head": ((1, 2),)})
    assert figure.spots == {"a": (1, 2)}


def test_cymbals_are_drawn_as_plates_and_carry_their_strap_in_the_middle():
    kind = catalog().kinds["cymbals"]
    figure = plates(kind, list(kind.parts), width=328)
    assert set(figure.spots) == {part.code for part in kind.parts if part.role in {"plate", "cord"}}
