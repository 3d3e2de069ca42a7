"""What entries of the catalog have in common."""

from __future__ import annotations

from inventory.catalog.load import catalog
from inventory.catalog.schema import Hazard, Origin, Tool
from inventory.catalog.schema.entries import Selective


def test_a_figure_without_an_origin_is_the_shops_own_and_a_caution_common_practice():
    assert Tool("mandrel", "Mandrel").origin is Origin.DEFAULT
    assert Hazard("heat", "Heat", "know what is behind the part").origin is Origin.COMMON


def test_what_names_no_kind_is_for_every_kind():
    kinds = catalog().kinds.values()
    assert all(kind.fits(Selective()) for kind in kinds)
    assert [kind.code for kind in kinds if kind.fits(Selective(kinds=("flute",)))] == ["flute"]
