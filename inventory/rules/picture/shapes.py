"""Points, strokes and stations: what every drawing is made of. Lengths are units of the view box (1 = one CSS pixel on a phone)."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from math import cos, hypot, pi, sin

from inventory.catalog.schema import Part
from inventory.rules.verdict import EffectGroup

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom
Place = tuple[float, float, float]  # where a drawing lies on the page: its corner x, y, and its scale
STATION_RADIUS = 12.0  # of a sign, and of what a finger may touch
DOT_RADIUS = 2.5  # where nothing was found


class Style(StrEnum):
    """How a stroke is painted; the colors belong to whoever renders."""

    RIM = "rim"  # the outline of a tube along its middle
    FACE = "face"  # its brass, over the rim
    SHINE = "shine"  # the light on it
    BRASS = "brass"  # outlined and filled with brass
    WOOD = "wood"  # outlined and filled with a quiet tone
    PART = "part"  # outlined, filled with paper
    LINE = "line"  # a brass line, not filled
    FAINT = "faint"  # a thin quiet line
    DASHED = "dashed"  # a thin quiet dashed line


@dataclass(frozen=True, slots=True)
class Mark:
    """The worst finding at a part, in a few words."""

    group: EffectGroup
    text: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """One path of the drawing, in SVG path syntax."""

    d: str
    style: Style
    width: float = 1.3


@dataclass(frozen=True, slots=True)
class Station:
    """A part on the picture. ``number`` is its place in the inspection walk; ``group`` is None without a finding."""

    code: str
    number: int
    name: str
    x: float
    y: float
    group: EffectGroup | None = None
    text: str = ""

    @property
    def said(self) -> str:
        """The station in words, for those who do not see the picture."""
        return f"{self.number}, {self.name}: {self.text}" if self.text else f"{self.number}, {self.name}"


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a station."""

    code: str
    x: float
    y: float  # baseline of the first line
    anchor: str  # start, middle, end
    lines: tuple[str, ...]
    group: EffectGroup | None
    box: Box
    leader: tuple[Point, Point] | None = None  # from the station to words that stand away from it


@dataclass(frozen=True, slots=True)
class Caption:
    """A quiet word on the drawing itself: "F side"."""

    x: float
    y: float
    text: str
    anchor: str = "start"

    @property
    def box(self) -> Box:
        wide = len(self.text) * 6.2
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return (left, self.y - 9, left + wide, self.y + 3)


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished picture."""

    description: str
    width: float
    height: float
    strokes: tuple[Stroke, ...]
    stations: tuple[Station, ...]
    labels: tuple[Label, ...]
    captions: tuple[Caption, ...]
    place: Place = (0.0, 0.0, 1.0)  # of the strokes
    pieces: tuple[Stroke, ...] = ()  # what is drawn beside the instrument, at the page's own scale
    off: frozenset[str] = frozenset()  # codes of the parts that do not stand on the instrument
    rail: float = 0.0  # how far down the instrument goes


@dataclass(slots=True)
class Figure:
    """An instrument by itself, at the scale it was drawn in."""

    width: float
    height: float
    strokes: list[Stroke] = field(default_factory=list)
    captions: list[Caption] = field(default_factory=list)
    spots: dict[str, Point] = field(default_factory=dict)
    keep: list[Box] = field(default_factory=list)  # where words do not stand
    origin: Point = (0.0, 0.0)  # its upper left corner

    def place(
        self, track: Track, parts: Sequence[Part], *, low: float = 0.0, high: float = 1.0, alone: float | None = None
    ) -> None:
        """Stand the parts on the track in their order, evenly between two shares of it; a single one at ``alone``."""
        if len(parts) == 1 and alone is not None:
            low = high = alone
        for part, spot in zip(parts, track.spread(len(parts), low=low, high=high) if parts else (), strict=True):
            self.spots[part.code] = spot

    def add(self, d: str, style: Style, width: float = 1.3) -> None:
        last = self.strokes[-1] if self.strokes else None
        if last is not None and (last.style, last.width) == (style, width) and style in {Style.LINE, Style.FAINT}:
            self.strokes[-1] = Stroke(d=last.d + d, style=style, width=width)  # lines never hide each other
        else:
            self.strokes.append(Stroke(d=d, style=style, width=width))

    def line(self, *points: Point, style: Style = Style.LINE, width: float = 1.3) -> None:
        self.add(polyline(points), style, width)

    def box(self, *, x: float, y: float, w: float, h: float, r: float = 2.0, style: Style = Style.PART) -> None:
        """Draw a rectangle with round corners around its center (x, y)."""
        left, top, r = x - w / 2, y - h / 2, min(r, w / 2, h / 2)
        self.add(
            f"M{n(left + r)} {n(top)}h{n(w - 2 * r)}a{n(r)} {n(r)} 0 0 1 {n(r)} {n(r)}v{n(h - 2 * r)}"
            f"a{n(r)} {n(r)} 0 0 1 {n(-r)} {n(r)}h{n(2 * r - w)}a{n(r)} {n(r)} 0 0 1 {n(-r)} {n(-r)}v{n(2 * r - h)}"
            f"a{n(r)} {n(r)} 0 0 1 {n(r)} {n(-r)}z",
            style,
        )

    def oval(self, *, x: float, y: float, rx: float, ry: float, style: Style = Style.PART, width: float = 1.3) -> None:
        self.add(
            f"M{n(x - rx)} {n(y)}a{n(rx)} {n(ry)} 0 1 0 {n(2 * rx)} 0a{n(rx)} {n(ry)} 0 1 0 {n(-2 * rx)} 0z",
            style,
            width,
        )


def n(value: float) -> str:
    """Return a coordinate with at most one decimal."""
    return (
        f"{value:.1f}".removesuffix(".0").replace("-0", "0") if abs(value) < 0.05 else f"{value:.1f}".removesuffix(".0")
    )


def polyline(points: Sequence[Point], *, closed: bool = False) -> str:
    head, *rest = points
    return f"M{n(head[0])} {n(head[1])}" + "".join(f"L{n(x)} {n(y)}" for x, y in rest) + ("z" if closed else "")


class Pen:
    """Walks along lines and arcs and remembers every step, so that a tube of changing width can follow it."""

    STEP = 3.0

    def __init__(self, x: float, y: float) -> None:
        self.points: list[Point] = [(x, y)]

    def to(self, x: float, y: float) -> Pen:
        """Go straight to (x, y)."""
        x0, y0 = self.points[-1]
        steps = max(1, round(hypot(x - x0, y - y0) / self.STEP))
        self.points += [(x0 + (x - x0) * i / steps, y0 + (y - y0) * i / steps) for i in range(1, steps + 1)]
        return self

    def turn(self, *, x: float, y: float, start: float, sweep: float, squeeze: float = 1.0) -> Pen:
        """Go round the center (x, y) from the angle ``start`` by ``sweep`` degrees (positive: clockwise on the page).

        ``squeeze`` flattens the arc sideways. The radius is the distance from where the pen stands.
        """
        x0, y0 = self.points[-1]
        radius = hypot((x0 - x) / squeeze, y0 - y)
        steps = max(4, round(abs(sweep) / 360 * 2 * pi * radius / self.STEP))
        for i in range(1, steps + 1):
            angle = (start + sweep * i / steps) * pi / 180
            self.points.append((x + radius * cos(angle) * squeeze, y + radius * sin(angle)))
        return self

    def curve(self, *, c1: Point, c2: Point, end: Point) -> Pen:
        """Follow a cubic curve to ``end``."""
        x0, y0 = self.points[-1]
        rough = (
            hypot(c1[0] - x0, c1[1] - y0) + hypot(c2[0] - c1[0], c2[1] - c1[1]) + hypot(end[0] - c2[0], end[1] - c2[1])
        )
        steps = max(6, round(rough / self.STEP))
        for i in range(1, steps + 1):
            t = i / steps
            a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
            self.points.append(
                (a * x0 + b * c1[0] + c * c2[0] + d * end[0], a * y0 + b * c1[1] + c * c2[1] + d * end[1])
            )
        return self


class Track:
    """A line that stations can stand on; measured by arc length."""

    def __init__(self, points: Sequence[Point]) -> None:
        self.points = list(points)
        self.marks = [0.0]
        for (x1, y1), (x2, y2) in pairwise(self.points):
            self.marks.append(self.marks[-1] + hypot(x2 - x1, y2 - y1))

    @property
    def length(self) -> float:
        return self.marks[-1]

    def at(self, share: float) -> Point:
        """Return the point at a share of the length, 0 to 1."""
        want = min(max(share, 0.0), 1.0) * self.length
        i = min(max(1, bisect_left(self.marks, want)), len(self.marks) - 1)
        span = self.marks[i] - self.marks[i - 1] or 1.0
        t = (want - self.marks[i - 1]) / span
        (x1, y1), (x2, y2) = self.points[i - 1], self.points[i]
        return (x1 + (x2 - x1) * t, y1 + (y2 - y1) * t)

    def spread(self, count: int, *, low: float = 0.0, high: float = 1.0) -> list[Point]:
        """Return ``count`` points evenly spread between two shares of the length; a single one stands in the middle."""
        if count == 1:
            return [self.at((low + high) / 2)]
        return [self.at(low + (high - low) * i / (count - 1)) for i in range(count)]


def tube(points: Sequence[Point], width_at: Callable[[float], float]) -> str:
    """Return the outline of a tube that follows the points; ``width_at`` gives its width at a share 0 to 1 of the length."""
    track = Track(points)
    left: list[Point] = []
    right: list[Point] = []
    last = len(points) - 1
    for i, (x, y) in enumerate(points):
        (x1, y1), (x2, y2) = points[max(0, i - 1)], points[min(last, i + 1)]
        along = hypot(x2 - x1, y2 - y1) or 1.0
        nx, ny = -(y2 - y1) / along, (x2 - x1) / along
        half = width_at(track.marks[i] / track.length) / 2
        left.append((x + nx * half, y + ny * half))
        right.append((x - nx * half, y - ny * half))
    return polyline([*left, *reversed(right)], closed=True)


def bore(*, narrow: float, wide: float, bell: float, flare: float, growth: float = 2.0) -> Callable[[float], float]:
    """Return a tube's width by share of its length: ``narrow`` growing to ``wide``, opening to ``bell`` over the last share ``flare``."""

    def width(share: float) -> float:
        straight = narrow + (wide - narrow) * float(share**growth)
        over = max(0.0, (share - (1 - flare)) / flare)
        return straight + (bell - wide) * (0.25 * over**2 + 0.75 * over**7)

    return width
