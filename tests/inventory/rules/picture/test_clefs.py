"""Clefs and accidentals keep to their place on the staff."""

from __future__ import annotations

import re

import pytest

from inventory.rules.picture.clefs import ACCIDENTALS, CLEFS

NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")


def ys_of(path: str) -> list[float]:
    """Return the y coordinates of the absolute commands of a path drawn by a tube."""
    return [float(y) for _, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path)]


@pytest.mark.parametrize("name", list(CLEFS))
def test_a_clef_is_made_of_closed_paths_about_its_line(name):
    paths = CLEFS[name](x=20, y=100, space=8)
    assert paths
    assert all(path.startswith("M") and path.endswith("z") for path in paths)
    ys = [y for path in paths for y in ys_of(path)]
    assert 100 - 5 * 8 <= min(ys) < 100 < max(ys) <= 100 + 3 * 8


def test_a_clef_grows_with_the_staff():
    small, large = (max(ys_of(CLEFS["treble"](x=0, y=0, space=space)[0])) for space in (4, 8))
    assert large == pytest.approx(2 * small, abs=0.2)


@pytest.mark.parametrize("sign", list(ACCIDENTALS))
def test_an_accidental_stands_about_its_note(sign):
    ys = [y for path in ACCIDENTALS[sign](x=0, y=50, space=8) for y in ys_of(path)]
    assert min(ys) < 50 < max(ys)
