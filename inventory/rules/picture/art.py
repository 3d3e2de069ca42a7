"""Instruments drawn as SVG in ``fixtures/pictures``, one file each, for any editor; also clefs and pieces of a valve.

A path says by its class how it is painted; a ``pipe`` is the middle of a tube with its ``stroke-width``. ``data-if``: only
where a kind has a part of one of these roles. ``keep`` boxes are where words should not stand. Each part stands at the
first ``station`` circle that is free and takes its role (``data-role``) and its code (``data-code``, an expression). A
glyph is a group of relative paths around its own origin.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from inventory.catalog.schema import Part
from inventory.rules.picture.shapes import Caption, Figure, Stroke, Style, n

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "pictures"
PIPE = "pipe"
RIM = 1.5  # on each side of a pipe's face
SHINE = 2.0
SHEETS = {"notes", "valve_pieces"}  # of glyphs


@cache
def drawings() -> frozenset[str]:
    """Return the names of the instruments that are drawn."""
    return frozenset(path.stem for path in FOLDER.glob("*.svg")) - SHEETS


@cache
def _svg(name: str) -> ET.Element:
    return ET.parse(FOLDER / f"{name}.svg").getroot()  # noqa: S314  # our own files


def _all(svg: ET.Element, tag: str) -> Iterator[ET.Element]:
    return svg.iter(f"{{http://www.w3.org/2000/svg}}{tag}")


def _numbers(element: ET.Element, *names: str) -> tuple[float, ...]:
    return tuple(float(element.get(name, "0")) for name in names)


def _strokes(element: ET.Element) -> Iterator[tuple[Stroke, str]]:
    """Yield what each path is painted with, and the roles that it depends on, "" for none."""
    for path in _all(element, "path"):
        kind, d, only_if = path.get("class", "line"), path.get("d", ""), path.get("data-if", "")
        if kind == PIPE:
            width = float(path.get("stroke-width", "10"))
            yield Stroke(d, Style.RIM, width), only_if
            yield Stroke(d, Style.FACE, width - 2 * RIM), only_if
            yield Stroke(d, Style.SHINE, min(SHINE, width / 5)), only_if
        else:
            usual = SHINE if kind == Style.SHINE else 1.5
            yield Stroke(d, Style(kind), float(path.get("stroke-width", usual))), only_if


def drawn(name: str, parts: Sequence[Part]) -> Figure:
    """Return a drawing with its parts at their stations; a part without a free station of its role gets no spot."""
    svg = _svg(name)
    roles = {part.role for part in parts}
    left, top, width, height = (float(side) for side in svg.get("viewBox", "").split())
    figure = Figure(width=width, height=height, origin=(left, top))
    figure.strokes += [stroke for stroke, only_if in _strokes(svg) if not only_if or roles & set(only_if.split())]
    for text in _all(svg, "text"):
        x, y = _numbers(text, "x", "y")
        figure.captions.append(Caption(x, y, text.text or "", text.get("text-anchor", "start")))
    for rect in _all(svg, "rect"):
        x, y, wide, tall = _numbers(rect, "x", "y", "width", "height")
        figure.keep.append((x, y, x + wide, y + tall))
    waiting = list(parts)
    for place in svg.iter():
        taken, code = place.get("data-role", "").split(), place.get("data-code", "")
        fitting = [part for part in waiting if part.role in taken and re.search(code, part.code)]
        if fitting:
            x, y = _numbers(place, "cx", "cy")
            figure.spots[fitting[0].code] = (x, y)
        waiting = [part for part in waiting if part.code not in figure.spots]
    return figure


@cache
def _glyphs(sheet: str) -> dict[str, tuple[Stroke, ...]]:
    return {
        name: tuple(stroke for stroke, _ in _strokes(group))
        for group in _all(_svg(sheet), "g")
        for name in group.get("data-role", group.get("id", "")).split()
    }


def glyph(sheet: str, name: str, *, x: float, y: float) -> tuple[Stroke, ...]:
    """Return a glyph of a sheet with its origin at (x, y)."""
    return tuple(Stroke(f"M{n(x)} {n(y)}{one.d}", one.style, one.width) for one in _glyphs(sheet)[name])


def ranks(sheet: str) -> dict[str, int]:
    """Return the place of each glyph in its sheet, by name."""
    return {name: at for at, name in enumerate(_glyphs(sheet))}
