"""The picture of every kind of the catalog: complete, inside its frame, and readable."""

from __future__ import annotations

import random
from itertools import combinations, product
from math import hypot
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from inventory.catalog.load import catalog
from inventory.catalog.schema import Family, Kind, Part
from inventory.catalog.schema.kinds import lost_kind
from inventory.rules.picture.air_path import OFF_ROLES, PAGES, air_path, laid_out
from inventory.rules.picture.labels import BRACKETS, SIZE
from inventory.rules.picture.shapes import Drawing, Mark
from inventory.rules.picture.signs import overlaps, station_box
from inventory.rules.verdict import EffectGroup

FONTS = Path(__file__).resolve().parents[4] / "static" / "vendor" / "fonts"
BROKEN = Mark(group=EffectGroup.LIMITS, text="broken")
VALVE = {
    "piston", "rotor", "casing", "linkage", "valve_stem", "valve_cap", "top_cap", "felt", "bumper", "valve_spring",
    "valve_guide", "bearing",
}  # fmt: skip
BESIDE = {"piston_brass": VALVE, "rotary_horn": VALVE, "trombone": set()}
WORDS = (
    "scratched",
    "spring broken",
    "stuck down",
    "felt gone",
    "dent, air still passes",
    "cork torn and loose at one end",
)


def make_marks(*, kind: Kind, seed: int, count: int) -> dict[str, Mark]:
    dice = random.Random(seed)
    parts = dice.sample(kind.parts, min(count, len(kind.parts)))
    return {part.code: Mark(group=dice.choice(list(EffectGroup)), text=dice.choice(WORDS)) for part in parts}


def make_real_marks(*, kind: Kind, seed: int, count: int) -> dict[str, Mark]:
    """The same in the catalog's words: a fault that the part can have."""
    dice = random.Random(seed)
    return {
        code: Mark(mark.group, catalog().fault_name(dice.choice(catalog().faults_offered(kind.part(code)))))
        for code, mark in make_marks(kind=kind, seed=seed, count=count).items()
    }


def every_kind() -> list[Kind]:
    return list(catalog().kinds.values())


def said(kind: Kind, width: str, *what: object) -> str:
    return f"{kind.code}, {width}: {what}"


@pytest.mark.parametrize("width", ["phone", "wide"])
def test_every_part_of_every_kind_has_one_station_in_the_order_of_inspection(width):
    for kind in every_kind():
        drawing = air_path(kind=kind, marks={}, width=width)
        assert [station.code for station in drawing.stations] == [part.code for part in kind.parts], kind.code
        assert [station.number for station in drawing.stations] == list(range(1, len(kind.parts) + 1))


@pytest.mark.parametrize("width", list(PAGES))
def test_stations_stand_inside_the_picture_and_apart_from_each_other(width):
    for kind in every_kind():
        drawing = air_path(kind=kind, marks={part.code: BROKEN for part in kind.parts}, width=width)
        for station in drawing.stations:
            left, top, right, bottom = station_box(station)
            inside = left >= 0 and top >= 0 and right <= drawing.width and bottom <= drawing.height
            assert inside or width == "small", said(kind, width, station)  # on paper signs grow first
        for a, b in combinations(drawing.stations, 2):  # WCAG 2.2, criterion 2.5.8: a target has 24 px of its own
            assert hypot(a.x - b.x, a.y - b.y) >= 24, said(kind, width, a, b)


@pytest.mark.parametrize(("width", "enlarged"), [("wide", 1.0), ("map", 336 / 328)])
@pytest.mark.parametrize("count", [0, 1, 3, 6])
def test_on_a_desk_a_picture_with_up_to_six_findings_is_at_most_300_high(width, enlarged, count):
    """The map of a walk is as wide as the style sheet lets it be; its list beneath names what it has no room for."""
    for kind, seed in product(every_kind(), range(3) if count else [0]):
        marks = make_real_marks(kind=kind, seed=seed, count=count)
        assert air_path(kind=kind, marks=marks, width=width).height * enlarged <= 300, said(kind, width, seed)


def test_a_map_leaves_out_words_that_have_no_room_and_keeps_their_signs():
    for kind in every_kind():
        marks = make_marks(kind=kind, seed=3, count=40)
        drawing = air_path(kind=kind, marks=marks, width="map")
        assert {station.code for station in drawing.stations if station.group} == set(marks), kind.code
        assert all(label.box[3] <= drawing.height for label in drawing.labels), kind.code
        assert collisions(drawing) == [], kind.code


def test_other_parts_stand_apart_from_a_valve_taken_apart():
    laid = laid_out(catalog().kinds["trumpet"], width="wide")
    inside = [laid.spots[code][0] for code in laid.off - laid.named.keys()]
    assert inside
    assert min(laid.spots[code][0] for code in laid.named) - max(inside) >= 56  # room for a sign and its words


def test_no_words_read_on_into_a_caption():
    for kind in every_kind():
        drawing = air_path(kind=kind, marks=make_marks(kind=kind, seed=2, count=5), width="wide")
        for label, caption in product(drawing.labels, drawing.captions):
            if label.code not in drawing.off and label.box[1] < caption.box[3] and caption.box[1] < label.box[3]:
                gap = max(label.box[0] - caption.box[2], caption.box[0] - label.box[2])
                assert gap >= 24, said(kind, "wide", label, caption)


OVERALL = {"spring", "screw", "rod", "tone_hole", "adjusting_screw", "key_cork"}  # found all over a woodwind


def test_what_is_found_at_one_place_of_any_other_instrument_stands_there():
    for kind in (one for one in every_kind() if one.family is not Family.BRASS):
        off = air_path(kind=kind, marks={}, width="phone").off
        strays = {part.code for part in kind.parts if part.code in off and part.role not in OFF_ROLES | OVERALL}
        assert strays == set(), kind.code


@pytest.mark.parametrize("width", ["phone", "wide"])
def test_what_stands_off_the_instrument_says_its_whole_name(width):
    for kind in every_kind():
        drawing = air_path(kind=kind, marks={}, width=width)
        said_names = {label.code: " ".join(label.lines) for label in drawing.labels}
        for part in laid_out(kind, width=width).named:
            assert said_names[part] == BRACKETS.sub("", kind.part(part).name), said(kind, width, part)


def test_on_brass_only_what_the_air_passes_by_and_the_inside_of_a_valve_stand_off_the_instrument():
    for kind in (one for one in every_kind() if one.family is Family.BRASS):
        drawing = air_path(kind=kind, marks={}, width="phone")
        for part in kind.parts:
            assert (part.code in drawing.off) == (part.role in OFF_ROLES or part.role in BESIDE[kind.layout]), said(
                kind, "phone", part.code
            )


def test_an_instrument_keeps_its_proportions_on_every_page():
    for kind in every_kind():
        scales = {width: air_path(kind=kind, marks={}, width=width).place[2] for width in PAGES}
        assert scales["phone"] > 0.5, kind.code
        assert scales["wide"] >= 0.6 * scales["phone"], said(kind, "wide", scales)


def collisions(drawing: Drawing) -> list[tuple[object, object]]:
    boxes = [(label.code, label.box) for label in drawing.labels]
    hit: list[tuple[object, object]] = [
        (a, b) for (a, box), (b, other) in combinations(boxes, 2) if overlaps(box, other)
    ]
    hit += [
        (code, station.code)
        for code, box in boxes
        for station in drawing.stations
        if overlaps(box, station_box(station))
    ]
    return hit


@pytest.mark.parametrize("width", ["phone", "wide"])
@pytest.mark.parametrize("count", [1, 5, 12, 40])
def test_words_never_collide_and_never_leave_the_picture(width, count):
    for kind in every_kind():
        for seed in range(3):
            drawing = air_path(kind=kind, marks=make_marks(kind=kind, seed=seed, count=count), width=width)
            assert collisions(drawing) == [], said(kind, width, seed)
            for label in drawing.labels:
                left, top, right, bottom = label.box
                assert left >= 0, said(kind, width, label)
                assert right <= drawing.width, said(kind, width, label)
                assert top >= 0, said(kind, width, label)
                assert bottom <= drawing.height, said(kind, width, label)


@pytest.mark.parametrize("width", ["phone", "wide"])
def test_every_finding_has_words_beside_its_sign(width):
    for kind in every_kind():
        marks = make_marks(kind=kind, seed=3, count=40)
        drawing = air_path(kind=kind, marks=marks, width=width)
        assert {label.code for label in drawing.labels if label.group} == set(marks), kind.code


def test_no_word_is_cut_and_no_line_runs_through_other_words():
    for kind in every_kind():
        marks = make_marks(kind=kind, seed=5, count=9)
        drawing = air_path(kind=kind, marks=marks, width="wide")
        for label in drawing.labels:
            if label.code in marks:
                assert marks[label.code].text in " ".join(label.lines), said(kind, "wide", label.lines)
            if label.leader is None:
                continue
            (x1, y1), (x2, y2) = label.leader
            middle = ((x1 + x2) / 2, (y1 + y2) / 2)
            for other in drawing.labels:
                left, top, right, bottom = other.box
                assert not (left < middle[0] < right and top < middle[1] < bottom), said(kind, "wide", label, other)


def test_the_room_kept_for_words_is_enough_for_the_faces_that_are_served():
    """Checked against the metrics of the semi-bold face that every page loads (read by fontTools)."""
    widths: dict[str, float] = {}
    for file in ("accidentals", "sans-600"):
        face = TTFont(FONTS / f"{file}.woff2")
        em = face["head"].unitsPerEm
        widths |= {chr(code): face["hmtx"][name][0] / em for code, name in face.getBestCmap().items()}
    for kind in every_kind():
        drawing = air_path(kind=kind, marks=make_marks(kind=kind, seed=8, count=40), width="phone")
        for label in drawing.labels:
            left, _, right, _ = label.box
            widest = max(sum(widths[one] for one in line) for line in label.lines) * SIZE
            assert widest <= right - left, said(kind, "phone", label.lines)


def test_a_small_picture_has_signs_but_no_words():
    for kind in every_kind():
        marks = make_marks(kind=kind, seed=1, count=4)
        drawing = air_path(kind=kind, marks=marks, width="small")
        assert drawing.labels == ()
        assert {station.code for station in drawing.stations if station.group} == set(marks)
        off = air_path(kind=kind, marks={}, width="phone").off  # in a small picture only where something is found
        shown = [part.code for part in kind.parts if part.code not in off or part.code in marks]
        assert [station.code for station in drawing.stations] == shown


def test_a_finding_beside_the_instrument_takes_little_of_a_small_picture():
    """Two rows of signs hold a valve's pieces and the other parts, and none covers another (common practice, no source)."""
    kind = catalog().kinds["trumpet"]
    whole = air_path(kind=kind, marks={}, width="small")
    off = air_path(kind=kind, marks={}, width="phone").off
    drawing = air_path(kind=kind, marks={code: Mark(group=EffectGroup.STOPS, text="") for code in off}, width="small")
    assert not whole.pieces
    assert drawing.pieces
    assert drawing.height - whole.height <= 2 * 64
    boxes = [station_box(station) for station in drawing.stations if station.code in off]
    assert [(a, b) for a, b in combinations(boxes, 2) if overlaps(a, b)] == []


def test_the_description_says_each_finding_and_what_it_does():
    kind = catalog().kinds["trumpet"]
    marks = {
        "third_valve_slide": Mark(group=EffectGroup.LIMITS, text="seized"),
        "case": Mark(group=EffectGroup.LOOKS, text="latch"),
    }
    drawing = air_path(kind=kind, marks=marks, width="phone")
    assert "third valve slide: seized (limits playing)" in drawing.description
    assert "case: latch (looks only)" in drawing.description
    assert "2 with a finding" in drawing.description


def test_a_mark_at_a_part_the_kind_does_not_have_is_refused():
    kind = catalog().kinds["trumpet"]
    with pytest.raises(KeyError):
        air_path(kind=kind, marks={"bocal": Mark(group=EffectGroup.STOPS, text="blocked")}, width="phone")


def test_a_part_of_an_unheard_role_still_gets_a_station():
    trumpet = catalog().kinds["trumpet"]
    odd = Part(code="lyre_holder", name="lyre holder", role="lyre")
    changed = {name: getattr(trumpet, name) for name in trumpet.__dataclass_fields__} | {"parts": (*trumpet.parts, odd)}
    drawing = air_path(kind=Kind(**changed), marks={}, width="phone")
    assert drawing.stations[-1].code == "lyre_holder"


@pytest.mark.parametrize("width", sorted(PAGES))
def test_a_kind_that_the_catalog_lost_is_drawn_as_a_closed_case(width):
    drawing = air_path(kind=lost_kind("serpent"), marks={}, width=width)
    assert drawing.strokes
    assert not drawing.stations
