"""Where labels lie on a sheet and what lies where on a label. All lengths in millimeters, origin at the top left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import floor, sqrt

from core.translation import gettext as _
from core.translation import gettext_noop

LETTER_WIDTH, LETTER_HEIGHT = 215.9, 279.4
DOT = 25.4 / 600  # a dot of an ordinary laser printer: modules of whole dots print evenly
SMALLEST_MODULE = 0.25  # below this only industrial readers follow
LARGEST_MODULE = 1.0
LINE_HEIGHT = 1.2  # of the type size
PICTURED = 90.0  # a label this wide has room for the silhouette of its kind at its right end
PICTURE = 0.62  # of the height
RIGHT_EDGE = 1.6  # millimeters to the right of whatever stands last
LOWEST_LINE = 0.88  # of the radius: the circle is still nearly as wide as the radius there
SLACK = 1e-6


class LabelError(ValueError):
    """The labels cannot be printed so; the message says why in a sentence."""


@dataclass(frozen=True, slots=True)
class SheetGeometry:
    """A die-cut sheet by its dimensions: ``left`` and ``top`` are the first label's corner, pitches corner to corner."""

    code: str
    name: str
    width: float
    height: float
    columns: int
    rows: int
    left: float
    top: float
    pitch_x: float
    pitch_y: float
    is_round: bool = False
    page_width: float = LETTER_WIDTH
    page_height: float = LETTER_HEIGHT

    def __post_init__(self) -> None:
        """Refuse a sheet whose labels leave the page or overlap."""
        right = self.left + (self.columns - 1) * self.pitch_x + self.width
        bottom = self.top + (self.rows - 1) * self.pitch_y + self.height
        if min(self.left, self.top) < -SLACK or right > self.page_width + SLACK or bottom > self.page_height + SLACK:
            raise LabelError(_("The labels of sheet %(code)s would leave the page.", code=self.code))
        if self.pitch_x < self.width - SLACK or self.pitch_y < self.height - SLACK:
            raise LabelError(_("The labels of sheet %(code)s would overlap.", code=self.code))

    @property
    def per_sheet(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    def corner(self, position: int) -> tuple[float, float]:
        """Return x and y of the corner of a label; positions count from 1, row by row."""
        if not 1 <= position <= self.per_sheet:
            raise LabelError(
                _("Position %(at)s is not on this sheet; it has 1 to %(last)s.", at=position, last=self.per_sheet)
            )
        row, column = divmod(position - 1, self.columns)
        return self.left + column * self.pitch_x, self.top + row * self.pitch_y


# Dimensions as label stock is commonly sold for letter paper, in 1/32 inch: common practice, no source. The round
# sheet is a plain centered grid.
SHEETS = {
    sheet.code: sheet
    for sheet in (
        SheetGeometry(
            "30up",
            gettext_noop("30 to a sheet, 2-5/8 x 1 in (66.7 x 25.4 mm)"),
            66.675,
            25.4,
            3,
            10,
            4.7625,
            12.7,
            69.85,
            25.4,
        ),
        SheetGeometry(
            "20up",
            gettext_noop("20 to a sheet, 4 x 1 in (101.6 x 25.4 mm)"),
            101.6,
            25.4,
            2,
            10,
            3.96875,
            12.7,
            106.3625,
            25.4,
        ),
        SheetGeometry(
            "80up",
            gettext_noop("80 to a sheet, 1-3/4 x 1/2 in (44.5 x 12.7 mm)"),
            44.45,
            12.7,
            4,
            20,
            7.14375,
            12.7,
            52.3875,
            12.7,
        ),
        SheetGeometry(
            "25round",
            gettext_noop("63 round cable tags to a sheet, about 1 in (25 mm) across"),
            25.0,
            25.0,
            7,
            9,
            9.725,
            12.9,
            28.575,
            28.575,
            is_round=True,
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Slot:
    """The place of one label: ``index`` into the labels asked for, page from 0, corner in millimeters."""

    index: int
    page: int
    x: float
    y: float


def pages_needed(*, count: int, sheet: SheetGeometry, start: int = 1) -> int:
    """Return how many sheets ``count`` labels take when the first ``start`` - 1 places are already used."""
    sheet.corner(start)
    return -(-(count + start - 1) // sheet.per_sheet) if count else 0


def slots(*, count: int, sheet: SheetGeometry, start: int = 1) -> Iterator[Slot]:
    """Yield the place of each label, filling from position ``start`` of the first sheet, then whole sheets."""
    sheet.corner(start)
    for index in range(count):
        page, place = divmod(index + start - 1, sheet.per_sheet)
        yield Slot(index, page, *sheet.corner(place + 1))


@dataclass(frozen=True, slots=True)
class Line:
    """A box for text on a label, relative to the label's corner; ``size`` is the type size, ``rows`` how many lines."""

    x: float
    y: float
    width: float
    size: float
    rows: int = 1

    @property
    def height(self) -> float:
        """Height of the box."""
        return self.size * LINE_HEIGHT * self.rows


@dataclass(frozen=True, slots=True)
class LabelLayout:
    """One label's face: the code with its quiet zone as a square of ``side``, and the lines beside or below it."""

    module: float
    code_x: float
    code_y: float
    side: float
    number: Line
    kind: Line
    school: Line
    picture: float = 0.0  # side of the square for the silhouette, in the middle of the right end; 0 where no room is


def layout(*, sheet: SheetGeometry, modules: int) -> LabelLayout:
    """Return the face for a symbol of ``modules`` a side, quiet zone included, as large as the label allows.

    Raises LabelError when a module would print smaller than a phone can follow.
    """
    face = _round_layout(sheet=sheet, modules=modules) if sheet.is_round else _wide_layout(sheet=sheet, modules=modules)
    if face.module < SMALLEST_MODULE:
        raise LabelError(
            _(
                "The public address is too long for the sheet %(sheet)s: the code's squares would print smaller than "
                "%(least)s mm. Choose a sheet with larger labels or a shorter address.",
                sheet=_(sheet.name),
                least=SMALLEST_MODULE,
            )
        )
    return face


def on_dots(length: float) -> float:
    """Return the place moved down or right to the next whole printer dot."""
    dots = length / DOT
    return DOT * (round(dots) if abs(dots - round(dots)) < SLACK else floor(dots) + 1)


def _module(*, room: float, modules: int) -> float:
    return min(floor(room / modules / DOT + SLACK), floor(LARGEST_MODULE / DOT)) * DOT


def _wide_layout(*, sheet: SheetGeometry, modules: int) -> LabelLayout:
    """Code on the left over the full height (its quiet zone is the margin), three lines on the right."""
    module = _module(room=sheet.height - DOT, modules=modules)
    side = module * modules
    margin = (sheet.height - side - DOT) / 2
    picture = PICTURE * sheet.height if sheet.width > PICTURED else 0.0
    x, width = margin + side + 0.4, sheet.width - margin - side - 0.4 - RIGHT_EDGE
    if picture:
        width -= picture + RIGHT_EDGE
    school_rows = 2 if sheet.height > 20 else 1  # a school's full name needs two lines where they fit
    number = Line(x, 0.0, width, min(0.25 * sheet.height, 5.2))
    kind = Line(x, 0.0, width, min(0.17 * sheet.height, 3.4))
    school = Line(x, 0.0, width, min(0.15 * sheet.height, 3.0), school_rows)
    top = (sheet.height - number.height - kind.height - school.height) / 2
    return LabelLayout(
        module=module,
        code_x=margin,
        code_y=margin,
        side=side,
        number=replace(number, y=top),
        kind=replace(kind, y=top + number.height),
        school=replace(school, y=top + number.height + kind.height),
        picture=picture,
    )


def _round_layout(*, sheet: SheetGeometry, modules: int) -> LabelLayout:
    """School above, code with its quiet zone's corners inside the circle, number and kind below."""
    center = sheet.width / 2
    radius = center - 0.25  # the punch wanders a little
    school_size, number_size, kind_size = 1.3, 2.2, 1.5
    text_height = (number_size + kind_size) * LINE_HEIGHT
    module = LARGEST_MODULE + DOT
    while True:
        module = _module(room=(module - DOT / 2) * modules, modules=modules)
        side = module * modules
        top = -sqrt(max(radius**2 - (side / 2 + DOT) ** 2, 0.0))
        below = top + DOT + side
        if side < 2 * radius and below + text_height <= radius * LOWEST_LINE:
            break

    def line(y: float, size: float) -> Line:
        edge = max(abs(y), abs(y + size * LINE_HEIGHT))
        half = sqrt(max(radius**2 - edge**2, 0.0))
        return Line(center - half, center + y, 2 * half, size)

    return LabelLayout(
        module=module,
        code_x=center - side / 2,
        code_y=center + top,
        side=side,
        school=line(top - school_size * LINE_HEIGHT, school_size),
        number=line(below, number_size),
        kind=line(below + number_size * LINE_HEIGHT, kind_size),
    )
