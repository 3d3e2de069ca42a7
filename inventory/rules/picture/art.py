"""Drawings that never change, kept as SVG in ``fixtures/pictures`` for any editor: backgrounds, clefs, pieces of a valve.

A background is drawn twice, for a phone and for a wide page. Its paths carry their style as class, and ``data-if`` where
only a kind with parts of that role has them; ``keep`` boxes are where words should not. Each part stands at the first
place that takes its role (``data-role``) and its code (``data-code``, an expression): a ``station`` circle has room for
one, a ``track`` of straight lines for any number, evenly; a single one stands in its middle or at the share
``data-alone``. A glyph is a group of relative paths around its own origin.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from inventory.catalog.schema import Part
from inventory.rules.picture.shapes import ROOMY, Caption, Figure, Stroke, Style, Track, n

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "pictures"


@cache
def _svg(name: str) -> ET.Element:
    return ET.parse(FOLDER / f"{name}.svg").getroot()  # noqa: S314  # our own files


def _all(svg: ET.Element, tag: str) -> Iterator[ET.Element]:
    return svg.iter(f"{{http://www.w3.org/2000/svg}}{tag}")


def _numbers(element: ET.Element, *names: str) -> tuple[float, ...]:
    return tuple(float(element.get(name, "0")) for name in names)


def _strokes(element: ET.Element) -> Iterator[tuple[Stroke, str]]:
    """Yield each path with the role that it depends on, "" for none."""
    for path in _all(element, "path"):
        if path.get("class") == "track":
            continue
        width, style = float(path.get("stroke-width", "1.3")), Style(path.get("class", "line"))
        yield Stroke(d=path.get("d", ""), style=style, width=width), path.get("data-if", "")


def background(name: str, parts: Sequence[Part], *, width: float) -> Figure:
    """Return a drawing with its parts at their stations; a part without a free station of its role gets no spot."""
    svg = _svg(f"{name}.{'wide' if width > ROOMY else 'phone'}")
    roles = {part.role for part in parts} | {""}
    figure = Figure(width=width, height=float(svg.get("viewBox", "").split()[3]))
    figure.strokes += [stroke for stroke, role in _strokes(svg) if role in roles]
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
        if fitting and (line := place.get("d")):
            ends = [end.split() for end in line.removeprefix("M").split("L")]
            track = Track([(float(x), float(y)) for x, y in ends])
            figure.place(track, fitting, alone=float(place.get("data-alone", "0.5")))
        elif fitting:
            x, y = _numbers(place, "cx", "cy")
            figure.spots[fitting[0].code] = (x, y)
        waiting = [part for part in waiting if part.code not in figure.spots]
    return figure


@cache
def _glyphs(sheet: str) -> dict[str, tuple[Stroke, ...]]:
    return {group.get("id", ""): tuple(stroke for stroke, _ in _strokes(group)) for group in _all(_svg(sheet), "g")}


def glyph(sheet: str, name: str, *, x: float, y: float) -> tuple[Stroke, ...]:
    """Return a glyph of a sheet with its origin at (x, y)."""
    return tuple(Stroke(f"M{n(x)} {n(y)}{one.d}", one.style, one.width) for one in _glyphs(sheet)[name])
