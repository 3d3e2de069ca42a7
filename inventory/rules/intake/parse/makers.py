"""Maker and model that stand in one cell."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, NamedTuple

from core.cells import Cell
from inventory.rules.intake.parse.reading import cell_text, is_nothing
from inventory.rules.intake.parse.words import name_key

# The first that is in the cell parts it, unless a maker is known; a slash inside "F/Bb" or "3/4" parts nothing.
_BETWEEN: Final = tuple(map(re.compile, (r"\s+/\s+", r"\s+[-–—]+\s+", r"\s*[|;]\s*", r"(?<=\w{2})/(?=\w{2})", r",\s+")))
_MODEL: Final = re.compile(r"\s+(?=\S*\d)")  # a word with a figure begins the model


class MakerModel(NamedTuple):
    maker: str
    model: str


def part_maker_model(cell: Cell, *, makers: Mapping[str, str]) -> MakerModel:
    """Part "Plain Brass / TR-1": by a maker that is known, by a sign between, by the first word with a figure.

    ``makers`` is how each known maker is compared (``name_key``) to how it is written. A cell that none of it parts is a
    known maker, or else all model.
    """
    text = cell_text(cell)
    if is_nothing(text):
        return MakerModel("", "")
    words = text.split(" ")
    for count in range(len(words), 0, -1):
        if known := makers.get(name_key(" ".join(words[:count]))):
            return MakerModel(known, " ".join(words[count:]).strip(" /|-–—,;"))
    for sign in _BETWEEN:
        first, *rest = sign.split(text, maxsplit=1)
        if rest and first.strip() and rest[0].strip():
            maker, model = first.strip(), rest[0].strip()
            return MakerModel(makers.get(name_key(maker), maker), model)
    maker, *rest = _MODEL.split(text, maxsplit=1)
    if rest and not any(map(str.isdigit, maker)):
        return MakerModel(maker.strip(), rest[0].strip())
    return MakerModel("", text)
