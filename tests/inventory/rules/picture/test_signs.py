"""No two signs of a picture lie on each other, on a screen and on paper. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.picture.air_path import air_path
from inventory.rules.picture.shapes import Mark, Station
from inventory.rules.picture.signs import apart, overlaps, station_box
from inventory.rules.verdict import EffectGroup
from inventory.templatetags.picture import LEAST_POINTS, POINTS_PER_MM, SIGN_TYPE, on_paper

BROKEN = Mark(group=EffectGroup.LIMITS, text="broken")
PAGE = (200.0, 200.0)


def make_station(code: str, *, x: float, y: float, group: EffectGroup | None = EffectGroup.LOOKS) -> Station:
    return Station(code=code, number=1, name="a part", x=x, y=y, group=group)


def meeting(stations: tuple[Station, ...], *, growth: float = 1.0) -> list[tuple[str, str]]:
    signs = [(one.code, station_box(one, growth=growth)) for one in stations if one.group]
    return [(a, b) for (a, box), (b, other) in combinations(signs, 2) if overlaps(box, other)]


@pytest.mark.parametrize("width", ["phone", "wide"])
def test_with_a_finding_at_every_part_no_two_signs_meet(width):
    for kind in catalog().kinds.values():
        drawing = air_path(kind=kind, marks={part.code: BROKEN for part in kind.parts}, width=width)
        assert meeting(drawing.stations) == [], kind.code


@pytest.mark.parametrize(("wide", "tall"), [(90, 62), (82, 62), (70, 52), (60, 40)])
def test_on_paper_no_two_signs_of_neighbors_meet_and_all_can_be_read(wide, tall):
    for kind in catalog().kinds.values():
        codes = [part.code for part in kind.parts]
        for at in range(0, len(codes), 8):  # the next in the order of inspection stand closest
            marks = dict.fromkeys(codes[at : at + 8], BROKEN)
            drawing, paper = on_paper(air_path(kind=kind, marks=marks, width="small"), wide=wide, tall=tall)
            assert meeting(drawing.stations, growth=paper.sign) == [], kind.code
            boxes = [station_box(one, growth=paper.sign) for one in drawing.stations if one.group]
            page = (drawing.width + 0.01, drawing.height + 0.01)
            assert all(a >= 0 <= b and c <= page[0] and d <= page[1] for a, b, c, d in boxes), kind.code
            assert paper.width <= wide + 0.01, kind.code
            assert paper.height <= tall + 0.01, kind.code
            points = SIGN_TYPE * paper.sign * paper.width / drawing.width * POINTS_PER_MM
            assert points > LEAST_POINTS - 0.1, kind.code


def test_the_graver_sign_stays_where_its_part_is_and_the_other_gives_way():
    light, grave = make_station("light", x=100, y=100), make_station("grave", x=110, y=100, group=EffectGroup.STOPS)
    moved, stayed = apart([light, grave], page=PAGE)
    assert stayed == grave
    assert not overlaps(station_box(moved), station_box(stayed))
    assert moved.spot == (100, 100), "it no longer covers its part, so that a line leads there"


def test_a_sign_that_still_covers_its_part_needs_no_line():
    moved = apart([make_station("a", x=100, y=100), make_station("b", x=124, y=100)], page=PAGE)[1]
    assert (moved.x, moved.spot) == (128, None)


def test_a_sign_stays_on_the_page():
    box = station_box(apart([make_station("a", x=2, y=199)], page=PAGE)[0])
    assert (box[0] >= 0, box[3] <= 200) == (True, True)


def test_a_sign_that_gives_way_does_not_lie_on_the_dot_of_another_part():
    dot = make_station("dot", x=131, y=100, group=None)
    moved = apart([make_station("a", x=100, y=100), make_station("b", x=112, y=100), dot], page=PAGE)[1]
    assert not overlaps(station_box(moved), station_box(dot))


def test_a_sign_takes_more_room_than_a_dot_and_more_when_it_grows():
    dot = make_station("a", x=50, y=80, group=None)
    assert station_box(dot) == (46, 76, 54, 84)
    assert station_box(replace(dot, group=EffectGroup.LIMITS)) == (35, 65, 65, 95)
    assert station_box(replace(dot, group=EffectGroup.LIMITS), growth=2) == (20, 50, 80, 110)


def test_boxes_that_only_touch_do_not_overlap():
    assert overlaps((0, 0, 10, 10), (9, 9, 20, 20))
    assert not overlaps((0, 0, 10, 10), (10, 0, 20, 10))
    assert not overlaps((0, 0, 10, 10), (0, 10, 10, 20))
