"""Coordinates, captions, stations."""

from __future__ import annotations

from math import hypot

import pytest

from inventory.rules.picture.shapes import Caption, Station, n


@pytest.mark.parametrize(("value", "text"), [(1.0, "1"), (1.25, "1.2"), (-0.01, "0"), (-3.5, "-3.5"), (120, "120")])
def test_coordinates_are_short(value, text):
    assert n(value) == text


def test_a_caption_keeps_its_room_on_the_side_it_is_anchored():
    start, end = Caption(100, 50, "F side").box, Caption(100, 50, "F side", "end").box
    assert start[0] == 100
    assert end[2] == 100
    assert hypot(start[2] - start[0], 0) == pytest.approx(end[2] - end[0])


def test_a_station_is_said_with_its_finding():
    assert Station(code="reed", number=1, name="reed", x=0, y=0).said == "1, reed"
    assert Station(code="reed", number=1, name="reed", x=0, y=0, text="split").said == "1, reed: split"
