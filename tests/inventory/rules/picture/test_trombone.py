"""The trombone's slide in front, its F loop only where there is one."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.picture.trombone import slide
from tests.inventory.rules.picture.approved import approved, digests


def test_the_slide_bow_is_farthest_from_the_player_and_the_tuning_slide_nearest():
    kind = catalog().kinds["trombone"]
    figure = slide(list(kind.parts), width=328)
    bow = next(part.code for part in kind.parts if part.role == "bow_tube")
    tuning = next(part.code for part in kind.parts if part.role == "tuning_slide")
    assert figure.spots[bow][0] == max(x for x, _ in figure.spots.values())
    assert figure.spots[tuning][0] == min(x for x, _ in figure.spots.values())


def test_only_a_trombone_with_an_attachment_shows_its_loop():
    kinds = catalog().kinds
    plain = slide(list(kinds["trombone"].parts), width=328)
    with_f = slide(list(kinds["trombone_f"].parts), width=328)
    assert len(with_f.strokes) > len(plain.strokes)
    assert with_f.height > plain.height
    assert "f_attachment_tuning_slide" in with_f.spots


@pytest.mark.parametrize("code", ["trombone", "trombone_f", "trombone_bass"])
def test_the_picture_is_the_one_that_was_looked_at(code):
    assert digests(code) == approved(code)
