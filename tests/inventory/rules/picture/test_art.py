"""Drawings kept as files: what never changes is drawn once, and each part stands where it is on the instrument."""

from __future__ import annotations

import re

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Family, Part
from inventory.rules.picture.air_path import FORMS
from inventory.rules.picture.art import FOLDER, drawn, glyph, ranks
from inventory.rules.picture.shapes import Figure, Stroke, Style, Track

DRAWINGS = sorted(path.stem for path in FOLDER.glob("*.svg") if path.stem not in {"notes", "valve_pieces"})
COMMANDS = re.compile(r"[A-Za-z]")
BY_CODE = {"bars", "bars_with_resonators", "curved", "folded", "drum", "strings", "kettle"}
MOST_COMMANDS = 60  # in a path: a person can still move its points


def figure_of(code: str) -> Figure:
    kind = catalog().kinds[code]
    return drawn(kind.outline, kind.parts)


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_of_few_short_paths_inside_its_frame(name):
    figure = drawn(name, ())
    assert 0 < len({one.d for one in figure.strokes}) <= 60
    for one in figure.strokes:
        assert len(COMMANDS.findall(one.d)) <= (MOST_COMMANDS if name not in BY_CODE else 1000), one.d
    for left, top, right, bottom in figure.keep:
        x, y = figure.origin
        assert x <= left < right <= x + figure.width, name
        assert y <= top < bottom <= y + figure.height, name


def test_every_kind_has_a_drawing_and_every_brass_its_own():
    kinds = catalog().kinds.values()
    assert {kind.outline for kind in kinds} - set(FORMS) <= set(DRAWINGS)
    brass = [kind.outline for kind in kinds if kind.family is Family.BRASS]
    assert len(set(brass)) == len(brass) == 13


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
    snare, plain = (drawn("drum", [Part("a", "a", role)]) for role in ("snare_wires", "head"))
    assert len(snare.strokes) == len(plain.strokes) + 1
    assert snare.strokes[-1].style is Style.FAINT
    assert [one.text for one in plain.captions] == ["from above", "from the side"]
    assert plain.captions[0].anchor == "middle"


def test_a_part_without_a_free_place_is_left_over():
    parts = [Part(code, code, role) for code, role in (("a", "head"), ("b", "head"), ("c", "head"), ("d", "odd"))]
    figure = drawn("drum", parts)
    assert set(figure.spots) == {"a", "b"}
    assert figure.spots["a"] == (91.8, 116)
    assert drawn("drum", parts).spots == figure.spots  # places are free again in the next picture


def test_the_batter_head_is_seen_from_above_and_the_snare_side_from_the_side():
    figure = figure_of("snare_kit")
    assert figure.spots["batter_head"][0] < 164 < figure.spots["snare_side_head"][0]


def test_the_pedal_of_a_kettledrum_is_below_its_bowl():
    kind = catalog().kinds["timpani_set"]
    figure = figure_of(kind.code)
    by_role = {part.role: figure.spots[part.code] for part in kind.parts if part.code in figure.spots}
    assert by_role["head"][1] < by_role["shell"][1]
    assert by_role["pedal"][1] == max(y for _, y in figure.spots.values())


def test_accidentals_lie_above_naturals():
    figure = figure_of("bell_kit")
    assert figure.spots["bars_accidentals"][1] < figure.spots["bars_naturals"][1]


def test_the_bridge_of_a_violin_is_between_fittings_and_pegs():
    figure = figure_of("violin")
    assert figure.spots["fittings"][0] < figure.spots["bridge"][0] < figure.spots["pegs"][0]


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


def test_parts_on_a_track_stand_evenly_and_a_single_one_where_the_drawing_says():
    parts = [Part(code, code, "bar") for code in ("a", "b")]
    track = Figure(width=100, height=10)
    track.place(Track([(0, 5), (100, 5)]), [*parts, Part("c", "c", "bar")])
    assert track.spots == {"a": (0, 5), "b": (50, 5), "c": (100, 5)}
    track.place(Track([(0, 5), (100, 5)]), parts[:1], alone=0.9)
    assert track.spots["a"] == (90, 5)


def test_words_keep_clear_of_a_saxophone():
    body, bell = drawn("curved", ()).keep
    assert body[2] < bell[0]
    assert body[1] < body[3]


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
