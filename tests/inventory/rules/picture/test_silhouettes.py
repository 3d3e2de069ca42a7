"""Silhouettes. The drawings are our own; what is asked of them is the house's (docs/look.md), no source."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from inventory.catalog.load import catalog
from inventory.rules.picture.silhouettes import FOLDER, silhouette_svg, silhouettes

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = {SVG + name for name in ("svg", "g", "path", "circle", "ellipse")}


def test_every_kind_has_one_of_its_own_and_none_is_left_over():
    drawn = [kind.silhouette for kind in catalog().kinds.values()]
    assert len(set(drawn)) == len(drawn)
    assert set(drawn) == silhouettes()


@pytest.mark.parametrize("name", sorted(silhouettes()))
def test_one_is_small_of_one_color_and_drawn_by_shapes_alone(name):
    """Any other color would vanish on dark paper or with forced colors."""
    text = (FOLDER / f"{name}.svg").read_text(encoding="utf-8")
    root = ET.fromstring(text)  # noqa: S314  # our own file
    assert root.get("viewBox") == "0 0 96 96"
    assert {element.tag for element in root.iter()} <= DRAWN
    colors = {element.get(name) for element in root.iter() for name in ("fill", "stroke")} - {None}
    assert colors == {"none", "currentColor"}
    assert not {"style", "class", "id", "opacity"} & set().union(*(element.attrib for element in root.iter()))
    assert len(silhouette_svg(name).encode()) <= 1100


def test_it_is_not_read_out_and_an_unknown_one_is_nothing():
    assert silhouette_svg("tuba").startswith('<svg class="silhouette" aria-hidden="true" focusable="false" viewBox=')
    assert "\n" not in silhouette_svg("tuba")
    assert silhouette_svg("../notes") == ""
