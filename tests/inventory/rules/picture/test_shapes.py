"""Points, tracks and tubes."""

from __future__ import annotations

from math import hypot, pi

import pytest

from inventory.rules.picture.shapes import Caption, Figure, Pen, Station, Track, bore, n, polyline, tube


def test_a_track_is_measured_by_its_length():
    track = Track([(0, 0), (30, 0), (30, 40)])
    assert track.length == 70
    assert track.at(30 / 70) == pytest.approx((30, 0))
    assert track.at(1) == (30, 40)
    assert track.at(2) == (30, 40)


def test_stations_spread_evenly_and_one_alone_stands_in_the_middle():
    track = Track([(0, 0), (100, 0)])
    assert track.spread(3, low=0.1, high=0.9) == [
        pytest.approx((10, 0)),
        pytest.approx((50, 0)),
        pytest.approx((90, 0)),
    ]
    assert track.spread(1, low=0.2, high=0.6) == [pytest.approx((40, 0))]


def test_a_half_turn_of_the_pen_is_as_long_as_half_a_circle():
    """Half the circumference, pi times the radius: the chords of the pen stay within one part in a hundred of it."""
    pen = Pen(0, -50).turn(x=0, y=0, start=-90, sweep=180)
    assert Track(pen.points).length == pytest.approx(50 * pi, rel=0.01)
    assert pen.points[-1] == pytest.approx((0, 50))


def test_a_curve_ends_where_it_should():
    assert Pen(0, 0).curve(c1=(10, 0), c2=(20, 10), end=(20, 30)).points[-1] == pytest.approx((20, 30))


def test_a_tube_is_as_wide_as_asked():
    outline = tube([(0, 0), (50, 0), (100, 0)], lambda share: 4 + 6 * share)
    assert outline == "M0 2L50 3.5L100 5L100 -5L50 -3.5L0 -2z"


def test_a_bore_grows_from_the_mouthpiece_to_the_bell():
    width = bore(narrow=5, wide=12, bell=60, flare=0.15)
    widths = [width(i / 50) for i in range(51)]
    assert widths == sorted(widths)
    assert (widths[0], widths[-1]) == pytest.approx((5, 60))


@pytest.mark.parametrize(("value", "text"), [(1.0, "1"), (1.25, "1.2"), (-0.01, "0"), (-3.5, "-3.5"), (120, "120")])
def test_coordinates_are_short(value, text):
    assert n(value) == text


def test_a_polyline_closes_when_asked():
    assert polyline([(0, 0), (1, 2)]) == "M0 0L1 2"
    assert polyline([(0, 0), (1, 2)], closed=True).endswith("z")


def test_a_caption_keeps_its_room_on_the_side_it_is_anchored():
    start, end = Caption(100, 50, "F side").box, Caption(100, 50, "F side", "end").box
    assert start[0] == 100
    assert end[2] == 100
    assert hypot(start[2] - start[0], 0) == pytest.approx(end[2] - end[0])


def test_a_station_is_said_with_its_finding():
    assert Station(code="reed", number=1, name="reed", x=0, y=0).said == "1, reed"
    assert Station(code="reed", number=1, name="reed", x=0, y=0, text="split").said == "1, reed: split"


def test_a_tube_lies_half_its_width_to_both_sides_of_its_line():
    """By hand: along (3, 4)/5 the normal is (-4, 3)/5, so a tube of width 10 goes 4 left and 3 down of its line."""
    assert tube([(0, 0), (30, 40)], lambda _: 10) == "M-4 3L26 43L34 37L4 -3z"


def test_a_box_has_corners_of_two_unless_told():
    plain, told = Figure(width=100, height=100), Figure(width=100, height=100)
    plain.box(x=50, y=50, w=20, h=10)
    told.box(x=50, y=50, w=20, h=10, r=2)
    assert plain.strokes == told.strokes
    assert plain.strokes[0].d.startswith("M42 45h16a2 2 0 0 1 2 2v6")


def test_lines_of_one_kind_become_one_stroke_and_shapes_stay_apart():
    figure = Figure(width=100, height=100)
    figure.line((0, 0), (1, 0))
    figure.line((0, 5), (1, 5))
    figure.line((0, 9), (1, 9), width=2)
    figure.oval(x=5, y=5, rx=1, ry=1)
    figure.oval(x=9, y=5, rx=1, ry=1)
    assert len(figure.strokes) == 4
    assert figure.strokes[0].d == "M0 0L1 0M0 5L1 5"
