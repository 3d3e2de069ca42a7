"""Template tags that render the drawings of ``inventory.rules.picture`` as inline SVG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.schema import Family, Kind
from inventory.rules.picture.air_path import SIGNS, Width, air_path
from inventory.rules.picture.labels import LINE
from inventory.rules.picture.shapes import Drawing, Mark, Station, Stroke, Style
from inventory.rules.picture.signs import apart, station_box
from inventory.rules.picture.staff import StaffNote, staff, summary_of
from inventory.rules.picture.trend import TrendTest, trend
from inventory.rules.playing import NoteState
from inventory.rules.verdict import EffectGroup

register = template.Library()

# Attributes that print; the style sheet takes over on screen through the class. fill, stroke, dashes.
COLOR: Mapping[Style, tuple[str, str, str]] = {
    Style.RIM: ("none", "#a87b23", ""),
    Style.FACE: ("none", "#ecd39b", ""),
    Style.SHINE: ("none", "#fbf3df", ""),
    Style.BRASS: ("#ecd39b", "#a87b23", ""),
    Style.WOOD: ("#ebe4d4", "#7d7462", ""),
    Style.PART: ("#fbf8f1", "#a87b23", ""),
    Style.LINE: ("none", "#a87b23", ""),
    Style.FAINT: ("none", "#8d8471", ""),
    Style.DASHED: ("none", "#8d8471", "3 3"),
}
INK: Mapping[Style, tuple[str, str, str]] = {
    Style.RIM: ("none", "#000000", ""),
    Style.FACE: ("none", "#ffffff", ""),
    Style.SHINE: ("none", "#ffffff", ""),
    Style.BRASS: ("#ffffff", "#000000", ""),
    Style.WOOD: ("#e6e6e6", "#000000", ""),
    Style.PART: ("#ffffff", "#000000", ""),
    Style.LINE: ("none", "#000000", ""),
    Style.FAINT: ("none", "#666666", ""),
    Style.DASHED: ("none", "#666666", "3 3"),
}
SIGN_COLOR = {EffectGroup.STOPS: "#9c2f24", EffectGroup.LIMITS: "#8a4b08", EffectGroup.LOOKS: "#5b564d"}


# What heads the parts of a kind: the air goes through those of wind instruments in order.
PARTS_HEADINGS = {Family.BRASS: _("Air path"), Family.WOODWIND: _("Air path")}

WIDTHS_OF: Mapping[str, tuple[Literal["phone", "wide", "small"], ...]] = {
    "page": ("phone", "wide"),
    "phone": ("phone",),
    "wide": ("wide",),
    "small": ("small",),
}


@dataclass(frozen=True, slots=True)
class DrawnStation:
    """A station with where its link goes and the color it prints in."""

    station: Station
    href: str
    color: str
    sign: str
    growth: float = 1.0  # of the sign

    @property
    def grown(self) -> str:
        x, y, k = self.station.x, self.station.y, self.growth
        return f"translate({x:.1f} {y:.1f}) scale({k:.2f}) translate({-x:.1f} {-y:.1f})"

    @property
    def leader(self) -> str:
        """A line from the part to its sign, where that stands beside it."""
        x, y = self.station.spot or (0.0, 0.0)
        return f"M{x:.1f} {y:.1f}L{self.station.x:.1f} {self.station.y:.1f}" if self.station.spot else ""

    @property
    def triangle(self) -> str:
        x, y = self.station.x, self.station.y
        return f"M{x:.1f} {y - 13:.1f}L{x + 12.5:.1f} {y + 9:.1f}H{x - 12.5:.1f}z"

    @property
    def top_left(self) -> tuple[str, str]:
        return f"{self.station.x - 11:.1f}", f"{self.station.y - 11:.1f}"

    @property
    def number_y(self) -> str:
        return f"{self.station.y + (5.2 if self.station.group is EffectGroup.LIMITS else 3.8):.1f}"


POINTS_PER_MM = 72 / 25.4
SIGN_TYPE = 11.0  # units of the number in a sign
LEAST_POINTS = 7.2  # of that number on paper


@dataclass(frozen=True, slots=True)
class OnPaper:
    """How large a drawing is printed, in millimeters, and how much its signs grow so that their numbers can be read."""

    width: float
    height: float
    sign: float


def on_paper(drawing: Drawing, *, wide: float, tall: float) -> tuple[Drawing, OnPaper]:
    """Return a drawing with its grown signs apart, and its largest size within so many millimeters."""
    unit = min(wide / drawing.width, tall / drawing.height)
    sign = round(max(LEAST_POINTS / (SIGN_TYPE * unit * POINTS_PER_MM), 1.0), 2)
    stations = apart(drawing.stations, page=(drawing.width, tall / unit), growth=sign)
    height = max([drawing.height, *(station_box(one, growth=sign)[3] for one in stations if one.group)])
    paper = OnPaper(width=round(drawing.width * unit, 2), height=round(height * unit, 2), sign=sign)
    return replace(drawing, stations=stations, height=height), paper


def picture_of(drawing: Drawing, *, links: Mapping[str, str], paper: OnPaper | None = None) -> dict[str, Any]:
    ink = paper is not None
    return {
        "drawing": drawing,
        "strokes": strokes_svg(drawing.strokes, ink=ink),
        "place": "translate({:.1f} {:.1f}) scale({:.3f})".format(*drawing.place),
        "pieces": strokes_svg(drawing.pieces, ink=ink),
        "stations": tuple(
            DrawnStation(
                station=station,
                href=links.get(station.code, ""),
                color=("#000000" if ink else SIGN_COLOR[station.group]) if station.group else "",
                sign=gettext(SIGNS[station.group]) if station.group else "",
                growth=paper.sign if paper else 1.0,
            )
            for station in drawing.stations
        ),
        "labels": tuple(
            {
                "label": label,
                "leader": "M{:.1f} {:.1f}L{:.1f} {:.1f}".format(*label.leader[0], *label.leader[1])
                if label.leader
                else "",
                "color": "#000000" if ink else SIGN_COLOR[label.group or EffectGroup.LOOKS],
                # x, y and the words
                "lines": tuple(
                    (f"{label.x:.1f}", f"{label.y + LINE * i:.1f}", text) for i, text in enumerate(label.lines)
                ),
            }
            for label in drawing.labels
        ),
    }


@lru_cache(maxsize=400)
def strokes_svg(strokes: tuple[Stroke, ...], *, ink: bool) -> SafeString:
    """Render the strokes, remembered: they are the same for every instrument of a kind."""
    colors = INK if ink else COLOR
    drawn = [(stroke, *colors[stroke.style]) for stroke in strokes]
    return render_to_string("inventory/picture/strokes.svg.html", {"strokes": drawn})


@register.filter
def parts_heading(kind: Kind) -> str:
    return str(PARTS_HEADINGS.get(kind.family, gettext("Parts")))


@register.inclusion_tag("inventory/picture/air_path.html", name="air_path")
def air_path_tag(
    kind: Kind,
    *,
    marks: Mapping[str, Mark] | None = None,
    links: Mapping[str, str] | None = None,
    size: str = "page",
    title: str = "",
    wide: float = 82.0,
    tall: float = 48.0,
) -> dict[str, Any]:
    """Draw the air path of a kind.

    ``marks`` and ``links`` are by part code. Sizes: "page" (phone and desk variants, with the list of stations), "phone",
    "wide" (one drawing, no list), "map" (of what is not on the instrument only what has a finding), "small" (one color, no
    labels, no links, numbers at findings alone: for paper, as large as ``wide`` by ``tall`` millimeters allow). ``title`` is said
    in place of the kind's name.
    """
    widths: tuple[Width, ...] = ("map",) if size == "map" else WIDTHS_OF[size]
    drawings = [(width, air_path(kind=kind, marks=marks or {}, width=width)) for width in widths]
    paper = None
    if size == "small":
        drawing, paper = on_paper(drawings[0][1], wide=wide, tall=tall)
        drawings = [("small", drawing)]
    pictures = [(width, picture_of(drawing, links=links or {}, paper=paper)) for width, drawing in drawings]
    return {
        "pictures": pictures,
        "stations": pictures[0][1]["stations"],
        "with_list": size == "page",
        "both": size == "page",
        "is_small": size == "small",
        "paper": paper,
        "code": kind.code,
        "title": title or f"{parts_heading(kind)}: {kind.name}",
        "groups": {station.station.group for station in pictures[0][1]["stations"] if station.station.group},
    }


@register.inclusion_tag("inventory/picture/staff.html", name="staff_notes")
def staff_notes_tag(notes: Sequence[Any], *, clef: str = "treble", size: str = "page") -> dict[str, Any]:
    """Draw notes on a staff, with the sentence that sums them up.

    ``notes`` have written, state, cents and fingering (the results of the playing rules do); a note that is only weak
    shows no cents. Sizes: "page" (phone and desk variants), "phone", "wide", "small" (one color, for paper).
    """
    plain = [
        StaffNote(
            written=note.written,
            state=NoteState(note.state),
            cents=None if getattr(note, "is_weak", False) else note.cents,
            fingering=note.fingering,
        )
        for note in notes
    ]
    widths = WIDTHS_OF[size]
    return {
        "drawings": [(width, staff(notes=plain, clef=clef, width=width)) for width in widths],
        "summary": summary_of(plain),
        "states": {note.state for note in plain},
        "both": size == "page",
        "is_small": size == "small",
    }


@register.inclusion_tag("inventory/picture/trend.html", name="play_trend")
def play_trend_tag(
    tests: Sequence[TrendTest], *, fitted: tuple[float, float] | None = None, size: str = "page"
) -> dict[str, Any]:
    """Draw play tests over time. A table with the same belongs beneath it.

    ``fitted``: cents of the trend on the first and the last measured day. Sizes: "page" (phone and desk variants),
    "phone", "wide", "small" (one color, for paper).
    """
    return {
        "drawings": [(width, trend(tests=tests, width=width, fitted=fitted)) for width in WIDTHS_OF[size]],
        "both": size == "page",
        "is_small": size == "small",
        "has_range": any(test.has_range for test in tests),
        "has_tuning": any(test.tuning is not None for test in tests),
        "has_failed": any(test.failed for test in tests),
        "has_line": fitted is not None,
    }
