"""Drawings kept as files: what never changes is drawn once, and each part stands where it is on the instrument."""

from __future__ import annotations

import re

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.catalog.schema.kinds import lost_kind
from inventory.rules.picture.art import drawings, drawn, glyph, ranks
from inventory.rules.picture.shapes import Figure, Stroke, Style

DRAWINGS = sorted(drawings())
COMMANDS = re.compile(r"[A-Za-z]")
MOST_COMMANDS = 60  # in a path: a person can still move its points


def figure_of(code: str) -> Figure:
    kind = catalog().kinds[code]
    return drawn(kind.outline, kind.parts)


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_of_few_short_paths_inside_its_frame(name):
    figure = drawn(name, ())
    assert 0 < len({one.d for one in figure.strokes}) <= 60
    for one in figure.strokes:
        assert len(COMMANDS.findall(one.d)) <= MOST_COMMANDS, one.d
    for left, top, right, bottom in figure.keep:
        x, y = figure.origin
        assert x <= left < right <= x + figure.width, name
        assert y <= top < bottom <= y + figure.height, name


def test_every_kind_has_a_drawing_of_its_own_and_none_is_left_over():
    """A closed case stands for a kind that was lost."""
    kinds = catalog().kinds.values()
    assert {kind.outline for kind in kinds} | {lost_kind("serpent").outline} == set(DRAWINGS)
    assert len(DRAWINGS) == len(kinds) + 1


def test_the_clarinet_in_e_flat_is_the_shorter_one():
    """Common practice, no source."""
    lengths = {}
    for code in ("clarinet_bb", "clarinet_eb"):
        across = [x for x, _ in figure_of(code).spots.values()]
        lengths[code] = max(across) - min(across)
    assert lengths["clarinet_eb"] < 0.9 * lengths["clarinet_bb"]


def test_a_pipe_is_drawn_as_rim_face_and_shine_along_one_line():
    strokes = drawn("trumpet", ()).strokes
    assert [(one.style, one.width) for one in strokes[:3]] == [(Style.RIM, 8), (Style.FACE, 5), (Style.SHINE, 1.6)]
    assert len({one.d for one in strokes[:3]}) == 1


@pytest.mark.parametrize("code", ["trumpet", "cornet", "flugelhorn", "mellophone", "baritone_marching"])
def test_from_the_mouthpiece_at_the_left_to_the_bell_at_the_right(code):
    spots = figure_of(code).spots
    assert spots["mouthpiece"][0] == min(x for x, _ in spots.values())
    assert spots["bell"][0] == max(x for x, _ in spots.values())
    assert spots["first_valve_slide"][0] < spots["second_valve_slide"][0] < spots["third_valve_slide"][0]
    assert figure_of(code).width > figure_of(code).height


@pytest.mark.parametrize("code", ["euphonium", "tuba", "sousaphone"])
def test_low_brass_stands_upright_with_its_bell_above_everything(code):
    figure = figure_of(code)
    assert figure.height > figure.width
    assert figure.spots["bell"][1] == min(y for _, y in figure.spots.values())


@pytest.mark.parametrize("code", ["horn_single", "horn_double"])
def test_the_bell_of_a_horn_points_down_and_away_from_its_mouthpiece(code):
    spots = figure_of(code).spots
    assert spots["bell"][1] == max(y for _, y in spots.values())
    assert spots["bell"][0] > spots["mouthpiece"][0] + 100


def test_wires_are_drawn_only_on_a_drum_that_has_them():
    snare, plain = (drawn("snare_drum", [Part("a", "a", role)]) for role in ("snare_wires", "head"))
    extra = [one for one in snare.strokes if one not in plain.strokes]
    assert [one.style for one in extra] == [Style.FAINT]


def test_a_part_without_a_free_place_is_left_over():
    parts = [Part(code, code, role) for code, role in (("batter", "head"), ("lug", "lug"), ("b", "lug"), ("d", "odd"))]
    figure = drawn("snare_drum", parts)
    assert set(figure.spots) == {"batter", "lug"}
    assert drawn("snare_drum", parts).spots == figure.spots  # places are free again in the next picture


def test_the_batter_head_of_a_snare_drum_is_above_its_snare_side():
    spots = figure_of("snare_kit").spots
    assert spots["batter_head"][1] < spots["shell"][1] < spots["snare_side_head"][1]


@pytest.mark.parametrize("code", ["flute", "piccolo", "clarinet_bb", "sax_soprano"])
def test_a_straight_woodwind_lies_with_what_is_blown_at_the_left(code):
    figure = figure_of(code)
    blown = [part for part in ("reed", "mouthpiece", "head_cork", "lip_plate") if part in figure.spots]
    assert max(figure.spots[part][0] for part in blown) < 80
    assert max(x for x, _ in figure.spots.values()) > 260
    assert figure.width > 2 * figure.height


def test_an_english_horn_ends_in_a_bulb_and_begins_in_a_bent_tube_and_an_oboe_in_neither():
    assert "bocal" in figure_of("english_horn").spots
    assert "bocal" not in figure_of("oboe").spots


@pytest.mark.parametrize("code", ["sax_alto", "sax_tenor", "sax_baritone"])
def test_a_saxophone_goes_down_and_its_bell_comes_up_again_away_from_the_mouthpiece(code):
    spots = figure_of(code).spots
    assert spots["mouthpiece"][1] < spots["bell"][1] < spots["bow_and_brace"][1]
    assert spots["bow_and_brace"][1] == max(y for _, y in spots.values())
    assert spots["bell"][0] == max(x for x, _ in spots.values())
    assert spots["mouthpiece"][0] < spots["neck_tenon"][0] < spots["bell"][0]


@pytest.mark.parametrize("code", ["clarinet_alto", "clarinet_bass", "clarinet_contra"])
def test_a_low_clarinet_stands_below_its_neck_and_on_its_peg_if_it_has_one(code):
    kind, spots = catalog().kinds[code], figure_of(code).spots
    assert spots["neck"][1] == min(y for _, y in spots.values())
    assert ("floor_peg" in spots) == ("floor_peg" in kind.features)
    if "floor_peg" in spots:
        assert spots["floor_peg"][1] == max(y for _, y in spots.values())


def test_a_bassoon_has_its_reed_at_the_side_its_bell_at_the_top_and_turns_at_the_bottom():
    spots = figure_of("bassoon").spots
    assert spots["bell"][1] == min(y for _, y in spots.values())
    assert spots["boot_u_tube"][1] == max(y for _, y in spots.values())
    assert spots["reed"][0] == min(x for x, _ in spots.values())


def test_the_pedal_of_a_kettledrum_is_below_its_bowl():
    kind = catalog().kinds["timpani_set"]
    figure = figure_of(kind.code)
    by_role = {part.role: figure.spots[part.code] for part in kind.parts if part.code in figure.spots}
    assert by_role["head"][1] < by_role["shell"][1]
    assert by_role["pedal"][1] == max(y for _, y in figure.spots.values())


def test_accidentals_lie_above_naturals():
    figure = figure_of("bell_kit")
    assert figure.spots["bars_accidentals"][1] < figure.spots["bars_naturals"][1]


@pytest.mark.parametrize("code", ["violin", "viola", "cello", "double_bass"])
def test_a_bridge_is_between_fittings_and_pegs_and_an_endpin_below_everything(code):
    spots = figure_of(code).spots
    assert spots["pegs"][1] < spots["fingerboard"][1] < spots["bridge"][1] < spots["fittings"][1]
    assert ("endpin" in spots) == (code in {"cello", "double_bass"})
    assert spots.get("endpin", (0, 999))[1] > spots["fittings"][1]


def test_resonators_hang_below_the_bars():
    for code in ("xylophone", "marimba", "vibraphone"):
        spots = figure_of(code).spots
        assert spots["bars_accidentals"][1] < spots["bars_naturals"][1] < spots["resonators"][1]


def test_cymbals_are_drawn_as_plates_and_carry_their_strap_in_the_middle():
    kind = catalog().kinds["cymbals"]
    assert set(figure_of(kind.code).spots) == {part.code for part in kind.parts if part.role in {"plate", "cord"}}


@pytest.mark.parametrize("code", ["trombone", "trombone_f", "trombone_bass"])
def test_the_slide_bow_of_a_trombone_is_farthest_from_the_player_and_the_tuning_slide_nearest(code):
    spots = figure_of(code).spots
    assert spots["slide_bow"][0] == max(x for x, _ in spots.values())
    assert spots["main_tuning_slide"][0] == min(x for x, _ in spots.values())


def test_each_slide_of_an_attachment_stands_by_its_own_rotor():
    spots = figure_of("trombone_bass").spots
    assert spots["second_rotor"][0] < spots["f_attachment_rotor"][0]
    assert spots["second_rotor_tuning_slide"][0] < spots["f_attachment_tuning_slide"][0]
    assert not {"f_attachment_rotor", "second_rotor"} & set(figure_of("trombone").spots)


def test_a_double_horn_has_its_long_slides_above_and_its_short_ones_below():
    spots = figure_of("horn_double").spots
    assert spots["valve_slide_f_side"][1] < spots["valve_slide_bb_side"][1]
    assert spots["main_tuning_slide"][1] < spots["bb_main_slide"][1]


def test_words_keep_clear_of_a_saxophone():
    neck, body, bell = drawn("sax_alto", ()).keep
    assert neck[3] <= body[3] < bell[3]
    assert bell[2] > body[2] > neck[2]


def test_a_glyph_stands_where_it_is_put():
    here, there = (glyph("notes", "sharp", x=x, y=50) for x in (0, 7.25))
    assert [one.d.removeprefix("M0 50") for one in here] == [one.d.removeprefix("M7.2 50") for one in there]
    assert here[0].d.startswith("M0 50m")


def ends(strokes: tuple[Stroke, ...]) -> list[float]:
    """Return the y that straight relative lines of glyphs reach from their origin."""
    ys = []
    for stroke in strokes:
        y = 0.0
        for dy in re.findall(r"[ml]-?[\d.]+ (-?[\d.]+)", stroke.d):
            y += float(dy)
            ys.append(y)
    return ys


@pytest.mark.parametrize("name", ["treble", "bass", "alto", "neutral"])
def test_a_clef_is_made_of_closed_paths_about_its_line(name):
    """A staff space is eight: from five spaces above the line that the clef names to three below it."""
    strokes = glyph("notes", name, x=0, y=0)
    assert all(one.d.endswith("z") for one in strokes)
    assert -5 * 8 <= min(ends(strokes)) < 0 < max(ends(strokes)) <= 3 * 8


@pytest.mark.parametrize("name", ["sharp", "flat"])
def test_an_accidental_stands_about_its_note(name):
    ys = ends(glyph("notes", name, x=0, y=0))
    assert min(ys) < 0 < max(ys)


def test_the_pieces_of_a_valve_lie_in_the_order_of_their_sheet():
    order = ranks("valve_pieces")
    assert order["linkage"] < order["valve_stem"] < order["valve_cap"] < order["piston"] < order["casing"]
    assert order["top_cap"] != order["piston"]
    assert glyph("valve_pieces", "top_cap", x=1, y=1) == glyph("valve_pieces", "valve_cap", x=1, y=1)
    for role in order:
        assert {one.style for one in glyph("valve_pieces", role, x=10, y=10)} <= set(Style)
    assert glyph("valve_pieces", "linkage", x=0, y=0)[0].width == 2.4
