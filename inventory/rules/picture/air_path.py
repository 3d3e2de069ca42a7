"""The picture of a kind: its parts as stations on the drawn instrument, each marked by its worst finding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Kind, Part
from inventory.rules.picture.art import drawn, glyph, ranks
from inventory.rules.picture.labels import fits_named, labelled
from inventory.rules.picture.shapes import Box, Caption, Drawing, Figure, Mark, Place, Point, Station, Stroke
from inventory.rules.picture.signs import apart, overlaps, station_box
from inventory.rules.verdict import EffectGroup

Width = Literal["phone", "wide", "map", "small"]
FOUND_ALONE = {"map", "small"}  # of the parts that are not on the instrument these show those with a finding
OFF_ROLES = {"case", "finish", "brace", "stand", "frame"}  # seen on the walk, but no air goes through them
PIECES = "valve_pieces"
PIECE_STEP, PIECE_ROW = 38.0, 62.0
HIGHEST = 300.0  # a picture on a desk, so that the air path and the notes are seen without scrolling
MARGIN = 12.0  # at the left of an instrument on paper that has its other parts at the right
NAME_WIDE, NAME_ROW = 156.0, 32.0
APART = 24.0  # between a valve taken apart and the other parts, and from a caption to other words on its line
SIGNS = {
    EffectGroup.STOPS: gettext_noop("stops playing"),
    EffectGroup.LIMITS: gettext_noop("limits playing"),
    EffectGroup.LOOKS: gettext_noop("looks only"),
}


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its width, the room for the instrument, and where what is not on it stands.

    A tall instrument leaves a strip of ``beside`` at its right; otherwise it stands below.
    """

    width: float
    wide: float
    tall: float
    beside: float = 0.0


PAGES: Mapping[Width, Page] = {
    "phone": Page(328, 328, 300),
    "wide": Page(640, 480, 292, beside=230),
    "map": Page(328, 328, 292),
    "small": Page(328, 328, 300),
}


@dataclass(frozen=True, slots=True)
class Fit:
    """How an instrument makes room for words on a page: at the left instead of in the middle, and smaller."""

    at_left: bool = False
    share: float = 1.0


FITS = (Fit(), Fit(at_left=True), Fit(at_left=True, share=0.8))  # each is tried where the one before is too high


@dataclass(slots=True)
class AirPathLayout:
    """A kind on a page, without marks."""

    width: float
    height: float
    figure: Figure
    place: Place
    rail: float
    spots: dict[str, Point]
    keep: list[Box]
    captions: list[Caption]
    pieces: list[Stroke]
    off: frozenset[str]
    named: dict[str, float] = field(default_factory=dict)  # parts whose names stand beside them -> room for the words
    lists: list[Box] = field(default_factory=list)  # where words are listed that find no room beside their sign


def air_path(*, kind: Kind, marks: Mapping[str, Mark], width: Width) -> Drawing:
    """Return the drawing of a kind with these marks by part code.

    Raises KeyError for a mark at a part the kind does not have.
    """
    for code in marks:
        kind.part(code)
    off = frozenset(marks) if width in FOUND_ALONE else None
    tries = (
        _air_path(kind, laid_out(kind, width=width, off=off, fit=fit), marks=marks, width=width)
        for fit in (FITS if width == "wide" else FITS[:1])
    )
    best = next(tries)
    for drawing in tries:
        if best.height <= HIGHEST:
            break
        best = min(best, drawing, key=lambda one: one.height)
    return best


def _air_path(kind: Kind, laid: AirPathLayout, *, marks: Mapping[str, Mark], width: Width) -> Drawing:
    stations = stations_of(kind, laid, marks)
    if width != "small":  # there signs grow first
        stations = apart(stations, page=(laid.width, laid.height))
    captions = tuple(c for c in laid.captions if not any(overlaps(c.box, station_box(s)) for s in stations))
    labels, height = (
        ((), laid.height)
        if width == "small"
        else labelled(
            stations,
            taken=[*laid.keep, *((a - APART, b, c + APART, d) for a, b, c, d in (caption.box for caption in captions))],
            named=laid.named,
            off=laid.off,
            lists=laid.lists,
            grows=width != "map",
            page=(laid.width, laid.height),
        )
    )
    return Drawing(
        description=described(stations),
        width=laid.width,
        height=round(height, 1),
        strokes=tuple(laid.figure.strokes),
        stations=stations,
        labels=labels,
        captions=captions,
        place=laid.place,
        pieces=tuple(laid.pieces),
        off=laid.off,
    )


@lru_cache(maxsize=400)
def laid_out(kind: Kind, *, width: Width, off: frozenset[str] | None = None, fit: Fit = FITS[0]) -> AirPathLayout:
    """Return the kind's drawing on a page without marks, remembered: it is the same for every instrument of the kind.

    Of the parts that are not on the instrument only those of ``off`` are laid out, side by side without room for names,
    beside the instrument or below it; without ``off`` all of them, with their names. ``fit`` makes room for words.
    """
    page = PAGES[width]
    on_it = [part for part in kind.parts if part.role not in OFF_ROLES]
    figure = drawn(kind.outline, on_it)
    order = ranks(PIECES)
    rest = [part for part in kind.parts if part.code not in figure.spots and (off is None or part.code in off)]
    inside = sorted((part for part in rest if part.role in order), key=lambda part: order[part.role])
    others = [part for part in rest if part.role not in order]
    is_beside = page.beside > 0 and figure.height > figure.width
    room = page.width - page.beside if is_beside else page.width
    tall = page.tall if is_beside or not page.beside else page.tall - 84
    scale = fit.share * min(page.wide / figure.width, room / figure.width, tall / figure.height)
    left = (room - figure.width * scale) / 2
    strip = 2 * left - MARGIN if off is not None and rest and left >= PIECE_STEP else 0.0
    if strip and _tall_side_by_side([*inside, *others], width=strip) > page.tall:
        strip = 0.0
    if width == "map" and rest and not strip:
        scale = min(scale, (tall - _tall_side_by_side([*inside, *others], width=room)) / figure.height)
        left = (room - figure.width * scale) / 2
    left = MARGIN if strip or fit.at_left else left
    laid = _placed(figure, page=page, place=(left, 0.0, scale))
    laid.off = frozenset(part.code for part in rest)
    sides = [(left + figure.width * scale, 0.0, room, laid.rail), (0.0, 0.0, left, laid.rail)]
    words = (
        _("One valve, taken apart")
        if any(part.role == "piston" for part in inside)
        else _("One rotor with its linkage")
    )
    if off is not None:
        if strip:
            bottom = _side_by_side(laid, [*inside, *others], x=room - strip, y=0, width=strip)
        else:
            bottom = _side_by_side(laid, [*inside, *others], x=0, y=laid.rail, width=room)
        laid.height = max(laid.height, bottom)
    elif is_beside:
        bottom = _pieces(laid, inside, caption=words, x=room, y=0, width=page.beside)
        bottom = _names(laid, others, x=room, y=bottom, width=page.beside)
        laid.height = max(laid.height, bottom)
        laid.lists = [(room, bottom, page.width, HIGHEST), *sides]
    elif page.beside:
        half = max(PIECE_STEP * len(inside), 200.0) if inside else 0.0
        bottom = _pieces(laid, inside, caption=words, x=0, y=laid.rail, width=half)
        half += APART if inside else 0
        laid.height = max(bottom, _names(laid, others, x=half, y=laid.rail, width=page.width - half))
        laid.lists = sides
    else:
        bottom = _pieces(laid, inside, caption=words, x=0, y=laid.rail, width=page.width)
        laid.height = _names(laid, others, x=0, y=bottom, width=page.width)
    return laid


def _placed(figure: Figure, *, page: Page, place: Place) -> AirPathLayout:
    scale, height = place[2], figure.height * place[2]
    left, top = place[0] - figure.origin[0] * scale, place[1] - figure.origin[1] * scale
    return AirPathLayout(
        width=page.width,
        height=height,
        figure=figure,
        place=(left, top, scale),
        rail=height,
        spots={code: (left + x * scale, top + y * scale) for code, (x, y) in figure.spots.items()},
        keep=[(left + a * scale, top + b * scale, left + c * scale, top + d * scale) for a, b, c, d in figure.keep],
        captions=[Caption(left + c.x * scale, top + c.y * scale, c.text, c.anchor) for c in figure.captions],
        pieces=[],
        off=frozenset(),
    )


def _pieces(laid: AirPathLayout, parts: Sequence[Part], *, caption: str, x: float, y: float, width: float) -> float:
    """Draw a valve taken apart, the stations below its pieces; return where it ends."""
    if not parts:
        return y
    laid.captions.append(Caption(x + 4, y + 16, caption))
    per_row = int(width // PIECE_STEP)
    for at, part in enumerate(parts):
        row, column = divmod(at, per_row)
        middle, line = x + PIECE_STEP * (column + 0.5), y + 40 + PIECE_ROW * row
        laid.pieces += glyph(PIECES, part.role, x=middle, y=line)
        laid.keep.append((middle - 15, line - 14, middle + 15, line + 12))
        laid.spots[part.code] = (middle, line + 26)
    return y + 16 + PIECE_ROW * (1 + (len(parts) - 1) // per_row)


def _side_by_side(laid: AirPathLayout, parts: Sequence[Part], *, x: float, y: float, width: float) -> float:
    """Stand parts in rows, the piece of a valve above its station; return where they end."""
    order = ranks(PIECES)
    per_row = int(width // PIECE_STEP)
    bottom = y
    for row in (parts[at : at + per_row] for at in range(0, len(parts), per_row)):
        top = bottom + (32 if any(part.role in order for part in row) else 0)
        for column, part in enumerate(row):
            middle = x + PIECE_STEP * (column + 0.5)
            if part.role in order:
                laid.pieces += glyph(PIECES, part.role, x=middle, y=bottom + 22)
                laid.keep.append((middle - 15, bottom + 8, middle + 15, bottom + 34))
            laid.spots[part.code] = (middle, top + 22)
        bottom = top + 38
    return bottom


def _tall_side_by_side(parts: Sequence[Part], *, width: float) -> float:
    order, per_row = ranks(PIECES), int(width // PIECE_STEP)
    rows = [parts[at : at + per_row] for at in range(0, len(parts), per_row)]
    return sum(70.0 if any(part.role in order for part in row) else 38.0 for row in rows)


def _names(laid: AirPathLayout, parts: Sequence[Part], *, x: float, y: float, width: float) -> float:
    """Stand the parts that are not on the instrument in columns, with room for their names; return where they end.

    One whose name is too long for a column has its row to itself.
    """
    if not parts:
        return y
    laid.captions.append(Caption(x + 4, y + 16, _("Other parts")))
    columns = max(1, int(width // NAME_WIDE))
    column = width / columns
    at = 0
    for part in parts:
        is_long = not fits_named(part.name, room=column - 40)
        if is_long:
            at += -at % columns
        laid.spots[part.code] = (x + 16 + at % columns * column, y + 38 + at // columns * NAME_ROW)
        laid.named[part.code] = (width if is_long else column) - 40
        at += columns if is_long else 1
    return y + 38 + NAME_ROW * ((at - 1) // columns) + 18


def stations_of(kind: Kind, laid: AirPathLayout, marks: Mapping[str, Mark]) -> tuple[Station, ...]:
    """Return the parts as stations where the drawing has put them."""
    return tuple(
        Station(
            code=part.code,
            number=number,
            name=part.name,
            x=round(laid.spots[part.code][0], 1),
            y=round(laid.spots[part.code][1], 1),
            group=marks[part.code].group if part.code in marks else None,
            text=marks[part.code].text if part.code in marks else "",
        )
        for number, part in enumerate(kind.parts, start=1)
        if part.code in laid.spots
    )


def described(stations: Sequence[Station]) -> str:
    """Return the picture in one or two sentences."""
    found = [station for station in stations if station.group]
    if not found:
        return _("%(all)s stations in the order of inspection, none with a finding.", all=len(stations))
    said = "; ".join(f"{station.said} ({_(SIGNS[station.group])})" for station in found if station.group)
    return _(
        "%(all)s stations in the order of inspection, %(found)s with a finding: %(said)s.",
        all=len(stations), found=len(found), said=said,
    )  # fmt: skip
