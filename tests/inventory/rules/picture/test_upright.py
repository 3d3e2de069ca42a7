"""Low brass stands upright, its bell above everything else."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.picture.upright import upright
from tests.inventory.rules.picture.approved import approved, digests


@pytest.mark.parametrize("code", ["euphonium", "tuba", "sousaphone"])
def test_the_bell_stands_highest_and_the_mouthpiece_at_the_left(code):
    kind = catalog().kinds[code]
    figure = upright(kind, list(kind.parts), width=328)
    bell = figure.spots[next(part.code for part in kind.parts if part.role == "bell")]
    mouthpiece = figure.spots["mouthpiece"]
    assert bell[1] == min(y for _, y in figure.spots.values())
    assert mouthpiece[0] < bell[0]


def test_a_wider_page_moves_the_instrument_to_the_middle_and_does_not_stretch_it():
    kind = catalog().kinds["tuba"]
    narrow = upright(kind, list(kind.parts), width=328)
    wide = upright(kind, list(kind.parts), width=640)
    assert wide.spots["mouthpiece"][0] - narrow.spots["mouthpiece"][0] == pytest.approx((640 - 328) / 2)
    assert wide.spots["mouthpiece"][1] == narrow.spots["mouthpiece"][1]


@pytest.mark.parametrize("code", ["euphonium", "tuba", "sousaphone"])
def test_the_picture_is_the_one_that_was_looked_at(code):
    assert digests(code) == approved(code)
