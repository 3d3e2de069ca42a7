"""Charts as SVG, drawn on the server by pygal: for pages in light and dark, and for paper.

A chart carries its colors as attributes, for paper, and as classes, which the style sheet colors on a screen. It holds no
style, no script and no date, so the same figures give the same text.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache
from typing import Any, Literal
from xml.etree import ElementTree as ET

import pygal

# It finds plugins with maps, which nothing here draws, and by a way that Python has given up: each import would warn.
sys.meta_path[:] = [finder for finder in sys.meta_path if not isinstance(finder, pygal.PluginImportFixer)]

SVG = "http://www.w3.org/2000/svg"
Form = Literal["bars", "stacked", "line", "steps"]
Size = Literal["wide", "phone"]
SIZES: dict[Size, tuple[int, int]] = {"wide": (720, 300), "phone": (328, 250)}
FONT = "'Hornbook Sans', 'DejaVu Sans', sans-serif"
FONT_SIZE = 13  # at 320 px a chart is drawn at seven eighths
MOST_KEPT = 256  # drawings, of some 10 kB
MOST_LINES = 6  # of the scale
ROW = 26  # height of a bar with its space
LONGEST: dict[Size, int] = {"wide": 34, "phone": 18}  # letters of a label beside a bar
HIDDEN = frozenset({"tooltip-overlay", "text-overlay", "titles", "background"})  # classes of what is taken out
HATCH = (
    '<defs><pattern id="{key}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="chart-limit" width="6" height="6" fill="#f3e6c8"/>'
    '<path class="chart-hatch" d="M0 0v6" stroke="#8a4b08" stroke-width="2.5"/></pattern></defs>'
)


class Tone(StrEnum):
    """How a series looks: told apart by lightness and pattern too, so that a print in gray can be read."""

    MAIN = "main"
    GOOD = "good"
    LIMIT = "limit"
    STOP = "stop"
    NONE = "none"


# On paper: fill, stroke, dashes. LIMIT is hatched besides.
PAPER: dict[Tone, tuple[str, str, str]] = {
    Tone.MAIN: ("#e0be74", "#7d560a", ""),
    Tone.GOOD: ("#b9d3bd", "#2f6b46", ""),
    Tone.LIMIT: ("#f3e6c8", "#8a4b08", ""),
    Tone.STOP: ("#9c2f24", "#6f1f17", ""),
    Tone.NONE: ("#ffffff", "#5b564d", "3 3"),
}


def whole(value: float) -> str:
    return f"{value:,.0f}"


@dataclass(frozen=True, slots=True)
class Series:
    """Figures by place on the axis; None: nothing is known there. ``ranges`` are drawn as whiskers (low, high)."""

    name: str
    values: Sequence[float | None]
    tone: Tone = Tone.MAIN
    ranges: Sequence[tuple[float, float] | None] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn. ``code`` tells the charts of a page apart; ``summary`` says in a sentence what can be seen.

    "bars" and "stacked" stand beside the labels, "line" goes from label to label, and "steps" goes along ``xs``, which
    are figures, and rises or falls only where the next one stands.
    """

    code: str
    title: str
    summary: str
    form: Form
    labels: Sequence[str]
    series: Sequence[Series]
    formatter: Callable[[float], str] = whole
    xs: Sequence[float] = ()
    x_formatter: Callable[[float], str] = whole
    top: float | None = None  # of the scale; None: as high as the figures
    bottom: float = 0.0  # of the scale, where figures lie below 0

    @property
    def is_empty(self) -> bool:
        return not any(value is not None for one in self.series for value in one.values)


def draw_chart(chart: Chart, *, size: Size = "wide") -> str:
    """Return the chart as one SVG element, with a title and its summary for who cannot see it.

    The last ones are kept, since drawing takes ten times as long as a page has for it: ``formatter`` and ``x_formatter`` are
    functions of a module, not made for each chart.
    """
    series = tuple(replace(one, values=tuple(one.values), ranges=tuple(one.ranges)) for one in chart.series)
    return _kept(replace(chart, labels=tuple(chart.labels), xs=tuple(chart.xs), series=series), size)


@lru_cache(maxsize=MOST_KEPT)
def _kept(chart: Chart, size: Size) -> str:
    root = _drawn(chart, size).render_tree()
    ET.register_namespace("", SVG)
    key = f"chart-{chart.code}-{size}"
    _clean(root, chart, key=key)
    width, height = _size_of(chart, size)
    root.attrib.clear()
    root.attrib.update(
        {
            "xmlns": SVG,
            "viewBox": f"0 0 {width} {height}",
            "class": "chart-drawing",
            "role": "img",
            "aria-labelledby": f"{key}-title {key}-desc",
            "font-family": FONT,
            "font-size": str(FONT_SIZE),
        }
    )
    return ET.tostring(root, encoding="unicode")


def _drawn(chart: Chart, size: Size) -> Any:
    forms = {"bars": pygal.Bar, "stacked": pygal.HorizontalStackedBar, "line": pygal.Line, "steps": pygal.XY}
    width, height = _size_of(chart, size)
    style = pygal.style.Style(
        font_family=FONT, label_font_size=FONT_SIZE, major_label_font_size=FONT_SIZE, value_font_size=FONT_SIZE
    )
    scale = scale_to(_top_of(chart), lines=MOST_LINES if size == "wide" or chart.form != "stacked" else 3)
    if chart.bottom < 0:
        scale = [-scale[1] * line for line in range(math.ceil(-chart.bottom / scale[1]), 0, -1)] + scale
    drawing = forms[chart.form](
        style=style, js=(), css=(), no_prefix=True, width=width, height=height, show_legend=False, margin=6,
        margin_right=26, title=None, no_data_text="", y_labels=scale, range=(scale[0], scale[-1]),
        value_formatter=chart.formatter, dots_size=3, show_dots=chart.form != "steps", show_x_guides=False, truncate_label=-1, allow_interruptions=True,
    )  # fmt: skip
    if chart.form == "steps":
        ticks = scale_to(max(chart.xs, default=0), lines=5 if size == "wide" else 3)
        drawing.x_labels = [{"value": value, "label": chart.x_formatter(value)} for value in ticks]
        drawing.xrange = (0, ticks[-1])
    elif chart.form == "stacked":
        drawing.x_labels = [_short(label, size) for label in reversed(chart.labels)]
    else:
        drawing.x_labels = _thinned(chart.labels, width)
    for one in chart.series:
        drawing.add(one.name, _values(chart, one))
    return drawing


def _size_of(chart: Chart, size: Size) -> tuple[int, int]:
    width, height = SIZES[size]
    return (width, 44 + ROW * len(chart.labels)) if chart.form == "stacked" else (width, height)


def _short(label: str, size: Size) -> str:
    most = LONGEST[size]
    return label if len(label) <= most else f"{label[: most - 1].rstrip()}…"


def _thinned(labels: Sequence[str], width: int) -> list[str]:
    """Return the labels, of many only some: as many as have room beside each other."""
    room = (width - 80) / (FONT_SIZE * 0.65)
    longest = max(map(len, labels), default=0) + 2
    every = max(1, math.ceil(longest * len(labels) / room))
    return [label if place % every == 0 else "" for place, label in enumerate(labels)]


def _values(chart: Chart, one: Series) -> list[Any]:
    if chart.form == "steps":
        points: list[tuple[float, float]] = []
        for x, value in zip(chart.xs, one.values, strict=True):
            if value is not None:
                points += [(x, points[-1][1])] if points else []
                points.append((x, value))
        return points
    if chart.form == "stacked":
        return list(reversed(one.values))
    ranges = one.ranges or [None] * len(one.values)
    return [
        value if between is None else {"value": value, "ci": {"low": between[0], "high": between[1]}}
        for value, between in zip(one.values, ranges, strict=True)
    ]


def _top_of(chart: Chart) -> float:
    if chart.top is not None:
        return chart.top
    if chart.form == "stacked":
        columns = zip(*(one.values for one in chart.series), strict=True)
        return max((sum(value or 0 for value in column) for column in columns), default=0)
    figures = [value for one in chart.series for value in one.values if value is not None]
    figures += [between[1] for one in chart.series for between in one.ranges if between]
    return max(figures, default=0)


def scale_to(highest: float, *, lines: int = MOST_LINES) -> list[float]:
    """Return the lines of a scale from 0 to the highest figure or above: steps of 1, 2 or 5 times a power of ten."""
    if highest <= 0:
        return [0.0, 1.0]
    power = math.floor(math.log10(highest)) - 2
    for digit, exponent in ((digit, power + more) for more in range(4) for digit in (1, 2, 5)):
        step = Decimal(digit).scaleb(exponent)
        count = math.ceil(Decimal(repr(highest)) / step)
        if count <= lines:
            break
    return [float(step * line) for line in range(count + 1)]


def _clean(root: ET.Element, chart: Chart, *, key: str) -> None:
    """Take out what moves, styles or names its maker, and give what stays its colors, labels their place."""
    for parent in list(root.iter()):
        for child in list(parent):
            name = child.tag if isinstance(child.tag, str) else ""
            if name in {"", "style", "script", "title", "desc", "defs"} or HIDDEN & _classes(child):
                parent.remove(child)
    for element in list(root.iter()):
        classes = _classes(element)
        if "axis" in classes:
            _lay_axis(element, is_left="y" in classes)
        elif "series" in classes:
            number = next(int(one.removeprefix("serie-")) for one in classes if one.startswith("serie-"))
            _color(element, chart.series[number].tone, key=key)
    for element in root.iter():
        element.attrib.pop("style", None)
        own = sorted(one for one in _classes(element) if one.startswith("chart-"))
        element.attrib.pop("class", None)
        if own:
            element.attrib["class"] = " ".join(own)
    title, summary = ET.Element("title", {"id": f"{key}-title"}), ET.Element("desc", {"id": f"{key}-desc"})
    title.text, summary.text = chart.title, chart.summary
    hatch = ET.fromstring(HATCH.format(key=key))  # noqa: S314 - our own text
    for place, element in enumerate((title, summary, hatch)):
        root.insert(place, element)


def _classes(element: ET.Element) -> set[str]:
    return set(element.get("class", "").split())


def _lay_axis(axis: ET.Element, *, is_left: bool) -> None:
    for parent in list(axis.iter()):
        for child in list(parent):
            if child.tag == "text":
                child.attrib.update({"class": "chart-label", "fill": "#1d1b18"})
                child.attrib["text-anchor"] = "end" if is_left else "middle"
            elif child.tag == "path" and "guide" in _classes(child) and "always_show" not in _classes(axis):
                parent.remove(child)
            elif child.tag == "path":
                child.attrib.update({"class": "chart-guide", "fill": "none", "stroke": "#cfc6b1", "stroke-width": "1"})


def _color(series: ET.Element, tone: Tone, *, key: str) -> None:
    fill, stroke, dashes = PAPER[tone]
    for element in series.iter():
        classes = _classes(element)
        if "rect" in classes or "dot" in classes:
            element.attrib.update({"fill": fill, "stroke": stroke, "stroke-width": "1"})
            if tone is Tone.LIMIT:
                element.attrib["fill"] = f"url(#{key}-hatch)"
            if dashes:
                element.attrib["stroke-dasharray"] = dashes
            element.attrib["class"] = f"chart-{tone}"
        elif "ci" in classes:
            element.attrib.update(
                {"class": "chart-whisker", "fill": "none", "stroke": "#1d1b18", "stroke-width": "1.5"}
            )
        elif "line" in classes:
            element.attrib.update(
                {"class": f"chart-line-{tone}", "fill": "none", "stroke": stroke, "stroke-width": "2"}
            )
