"""Drawings kept as files: what never changes is drawn once, and each part stands where it is on the instrument."""

from __future__ import annotations

import re

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, Part
from inventory.rules.picture.air_path import form_of
from inventory.rules.picture.art import FOLDER, background, glyph
from inventory.rules.picture.brass import VALVE_ORDER
from inventory.rules.picture.shapes import ROOMY, Figure, Stroke, Style
from tests.inventory.rules.picture.approved import approved, digests

BACKGROUNDS = sorted({path.name.split(".")[0] for path in FOLDER.glob("*.phone.svg")})


def drawn(kind: Kind, *, width: float = 328) -> Figure:
    return form_of(kind)(list(kind.parts), width=width)


@pytest.mark.parametrize("name", BACKGROUNDS)
def test_a_background_is_there_for_phones_and_for_wide_pages(name):
    phone, wide = background(name, (), width=328), background(name, (), width=640)
    assert (phone.width, wide.width) == (328, 640)
    assert phone.height > 150
    assert phone.strokes != wide.strokes
    assert background(name, (), width=ROOMY).strokes == phone.strokes


@pytest.mark.parametrize("code", [code for code, kind in catalog().kinds.items() if kind.model in {"bars", "table"}])
@pytest.mark.parametrize("width", [328, 640])
def test_stations_stay_inside_the_picture(code, width):
    figure = drawn(catalog().kinds[code], width=width)
    assert figure.spots
    assert all(0 < x < width and 0 < y < figure.height for x, y in figure.spots.values())


def test_wires_are_drawn_only_on_a_drum_that_has_them():
    snare, plain = (background("drum", [Part("a", "a", role)], width=328) for role in ("snare_wires", "head"))
    assert len(snare.strokes) == len(plain.strokes) + 1
    assert snare.strokes[-1].style is Style.FAINT
    assert [one.text for one in plain.captions] == ["from above", "from the side"]
    assert plain.captions[0].anchor == "middle"


def test_a_part_without_a_free_place_is_left_over():
    parts = [Part(code, code, role) for code, role in (("a", "head"), ("b", "head"), ("c", "head"), ("d", "odd"))]
    figure = background("drum", parts, width=328)
    assert set(figure.spots) == {"a", "b"}
    assert figure.spots["a"] == (91.8, 116)
    assert background("drum", parts, width=328).spots == figure.spots  # places are free again in the next picture


def test_the_batter_head_is_seen_from_above_and_the_snare_side_from_the_side():
    figure = drawn(catalog().kinds["snare_kit"])
    assert figure.spots["batter_head"][0] < 164 < figure.spots["snare_side_head"][0]


def test_the_pedal_of_a_kettledrum_is_below_its_bowl():
    kind = catalog().kinds["timpani_set"]
    figure = drawn(kind)
    by_role = {part.role: figure.spots[part.code] for part in kind.parts if part.code in figure.spots}
    assert by_role["head"][1] < by_role["shell"][1]
    assert by_role["pedal"][1] == max(y for _, y in figure.spots.values())


def test_accidentals_lie_above_naturals():
    figure = drawn(catalog().kinds["bell_kit"])
    assert figure.spots["bars_accidentals"][1] < figure.spots["bars_naturals"][1]


def test_the_bridge_of_a_violin_is_between_fittings_and_pegs():
    figure = drawn(catalog().kinds["violin"])
    assert figure.spots["fittings"][0] < figure.spots["bridge"][0] < figure.spots["pegs"][0]


def test_cymbals_are_drawn_as_plates_and_carry_their_strap_in_the_middle():
    kind = catalog().kinds["cymbals"]
    assert set(drawn(kind).spots) == {part.code for part in kind.parts if part.role in {"plate", "cord"}}


def test_the_slide_bow_of_a_trombone_is_farthest_from_the_player_and_the_tuning_slide_nearest():
    kind = catalog().kinds["trombone"]
    spots = drawn(kind).spots
    assert spots["slide_bow"][0] == max(x for x, _ in spots.values())
    assert spots["main_tuning_slide"][0] == min(x for x, _ in spots.values())


def test_only_a_trombone_with_an_attachment_shows_its_loop():
    plain, with_f = (drawn(catalog().kinds[code]) for code in ("trombone", "trombone_f"))
    assert len(with_f.strokes) > len(plain.strokes)
    assert with_f.height > plain.height
    assert "f_attachment_tuning_slide" in with_f.spots


def test_a_slide_of_a_horn_stands_on_the_side_and_at_the_valve_that_its_code_names():
    codes = ("third_valve_slide_bb", "second_valve_slide_f", "bb_first_valve_slide", "valve_slide_bb_side", "odd_slide")
    double = background("horn_double", [Part(code, code, "valve_slide") for code in codes], width=328).spots
    assert double["bb_first_valve_slide"][0] < double["valve_slide_bb_side"][0] < double["third_valve_slide_bb"][0]
    assert double["second_valve_slide_f"][1] < min(double[code][1] for code in codes if "bb" in code)
    assert "odd_slide" not in double  # the second valve's place on the F side is taken
    single = drawn(catalog().kinds["horn_single"]).spots
    assert single["second_valve_slide"][1] < single["first_valve_slide"][1] < single["third_valve_slide"][1]


def test_parts_on_a_track_stand_evenly_and_a_single_one_where_the_drawing_says():
    parts = [Part(code, code, "leadpipe") for code in ("a", "b", "c")]
    spots = background("horn_double", parts, width=328).spots
    assert spots["b"][0] - spots["a"][0] == pytest.approx(spots["c"][0] - spots["b"][0])
    assert background("horn_double", parts[:1], width=328).spots["a"] == spots["b"]  # the middle
    bell = background("horn_double", [Part("a", "a", "bell")], width=328).spots["a"]
    assert bell[0] == pytest.approx(264.75, abs=0.01)  # 98 % of the way from 103.35 to 267.24


@pytest.mark.parametrize("code", ["trombone", "trombone_f", "trombone_bass", "horn_single", "horn_double"])
def test_the_picture_is_the_one_that_was_looked_at(code):
    assert digests(code) == approved(code)


def test_words_keep_clear_of_a_saxophone():
    body, bell = background("curved", (), width=328).keep
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


def test_every_piece_of_a_valve_has_its_glyph():
    for role in set(VALVE_ORDER) - {"bumper"}:
        strokes = glyph("valve_pieces", role, x=10, y=10)
        assert strokes
        assert {one.style for one in strokes} <= set(Style)
    assert glyph("valve_pieces", "linkage", x=0, y=0)[0].width == 2.4
