"""Points, strokes and stations: what every drawing is made of. Lengths are units of the view box (1 = one CSS pixel on a phone)."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

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
    spot: Point | None = None  # where the part is, if its sign stands beside it

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


def n(value: float) -> str:
    """Return a coordinate with at most one decimal."""
    return f"{round(value, 1) + 0.0:g}"  # adding 0 takes the sign off -0
