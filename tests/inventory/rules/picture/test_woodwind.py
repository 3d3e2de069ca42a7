"""Woodwinds: a straight line, a curve, a fold."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.picture.woodwind import OVERALL, curved, folded, straight


@pytest.mark.parametrize("code", ["clarinet_bb", "oboe", "flute", "piccolo"])
def test_a_straight_body_keeps_its_parts_in_order_from_left_to_right(code):
    kind = catalog().kinds[code]
    along = [part for part in kind.parts if part.role not in OVERALL | {"case", "finish", "brace"}]
    figure = straight(along, width=328)
    xs = [figure.spots[part.code][0] for part in along]
    assert xs == sorted(xs)


def test_a_saxophone_goes_down_and_its_bell_comes_up_again():
    kind = catalog().kinds["sax_alto"]
    figure = curved(list(kind.parts), width=328)
    bell = figure.spots["bell"]
    lowest = max(figure.spots.values(), key=lambda spot: spot[1])
    assert bell[1] < lowest[1]
    assert bell[0] > lowest[0]
    assert figure.spots["mouthpiece"][0] < bell[0]


def test_a_bassoon_has_its_reed_at_the_side_and_its_bell_at_the_top():
    kind = catalog().kinds["bassoon"]
    figure = folded(list(kind.parts), width=328)
    top = min(figure.spots, key=lambda code: figure.spots[code][1])
    assert "bell" in top
    assert figure.spots["reed"][0] == min(x for x, _ in figure.spots.values())
