"""Sheets of QR labels as PDF."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext

from core.pdf import SCHEME, render_pdf
from core.qr import QUIET_ZONE, Matrix, matrix, png_of, version_of
from inventory.rules.labels import (
    LINE_HEIGHT,
    RIGHT_EDGE,
    LabelError,
    LabelLayout,
    Line,
    SheetGeometry,
    Slot,
    layout,
    on_dots,
    slots,
)

# A tag's address usually just fits version 3, but there one square scratch over a tenth of the symbol defeats error
# correction Q in about one place of twenty (2 blocks, 9 codewords repaired in each). Version 4 repairs 13 in each and
# reads everywhere; the test of this module measures it.
ROBUST_VERSION = 4
MODULE_PX = 4
LONGEST_TEXT = 80  # of a name, before the layout shortens it to the label
# Widths in a wide bold face, of the type size: with them an asset number is never cut, whatever font the machine has.
NARROW, WIDE = frozenset("-.,:/|'!iljI "), frozenset("MWmw@%")
NARROW_WIDTH, USUAL_WIDTH, WIDE_WIDTH = 0.45, 0.84, 1.12
SMALLEST_TYPE = 1.1  # mm, about 3 points


@dataclass(frozen=True, slots=True)
class Label:
    """What one label shows: ``url`` is the tag's address in capitals, exactly as the code will carry it."""

    url: str
    asset_number: str
    kind: str
    school: str
    silhouette: str = ""  # of its kind: an SVG, shown where the label has room


def label_sheet(*, labels: Sequence[Label], sheet: SheetGeometry, start: int = 1, demo: bool = False) -> bytes:
    """Return the sheets as PDF, from position ``start`` of the first one on.

    ``demo`` marks page and labels loudly, outside of the codes. Raises LabelError (nothing to print, no such position,
    code or number too large for the label) and QrTextError (an address that is not in capitals).
    """
    if not labels:
        raise LabelError(gettext("There are no labels to print."))
    symbols = [matrix(label.url, min_version=ROBUST_VERSION) for label in labels]
    # One size of code on all labels of a print, the one the longest address needs.
    version = max(version_of(symbol) for symbol in symbols)
    symbols = [
        symbol if version_of(symbol) == version else matrix(label.url, min_version=version)
        for symbol, label in zip(symbols, labels, strict=True)
    ]
    face = layout(sheet=sheet, modules=len(symbols[0]) + 2 * QUIET_ZONE)
    pages: list[list[dict[str, Any]]] = []
    for slot in slots(count=len(labels), sheet=sheet, start=start):
        while len(pages) <= slot.page:
            pages.append([])
        pages[slot.page].append(_printed(labels[slot.index], slot=slot, face=face, sheet=sheet))
    measures = {"page_width": _number(sheet.page_width), "page_height": _number(sheet.page_height)}
    return render_pdf(
        html=render_to_string(
            "inventory/labels/sheet.html", {"pages": pages, "is_demo": demo, "is_round": sheet.is_round}
        ),
        stylesheets=[render_to_string("inventory/labels/sheet.css", measures)],
        assets=_pictures(symbols)
        | {_drawing(label): label.silhouette.encode() for label in labels if label.silhouette},
    )


def _pictures(symbols: Sequence[Matrix]) -> dict[str, bytes]:
    return {f"code-{index}.png": png_of(symbol, module_px=MODULE_PX) for index, symbol in enumerate(symbols)}


def _drawing(label: Label) -> str:
    return f"kind-{sha256(label.silhouette.encode()).hexdigest()[:16]}.svg"


def _printed(label: Label, *, slot: Slot, face: LabelLayout, sheet: SheetGeometry) -> dict[str, Any]:
    """A label placed on its page: texts, and boxes as style attributes for the template."""
    number = printable(label.asset_number)
    size = min(face.number.size, face.number.width / max(_em_width(number), 1.0))
    if size < SMALLEST_TYPE:
        raise LabelError(
            gettext("The asset number %(number)s is too long for the sheet %(sheet)s.")
            % {"number": number, "sheet": gettext(sheet.name)}
        )
    # Smaller type keeps the middle of its line.
    line = replace(face.number, size=size, y=face.number.y + (face.number.height - size * LINE_HEIGHT) / 2)
    return {
        "code": f"{SCHEME}code-{slot.index}.png",
        "code_box": _box(on_dots(slot.x + face.code_x), on_dots(slot.y + face.code_y), face.side, face.side),
        "number": number,
        "number_box": _line_box(line, slot=slot),
        "kind": printable(label.kind),
        "kind_box": _line_box(face.kind, slot=slot),
        "kind_rows": _rows(face.kind),
        "school": printable(label.school),
        "school_box": _line_box(face.school, slot=slot),
        "school_rows": _rows(face.school),
        "drawing": f"{SCHEME}{_drawing(label)}" if label.silhouette and face.picture else "",
        "drawing_box": _box(
            slot.x + sheet.width - face.picture - RIGHT_EDGE,
            slot.y + (sheet.height - face.picture) / 2,
            face.picture,
            face.picture,
        ),
    }


def printable(text: str) -> str:
    """Return the text on one line without control and direction marks, cut to what any label could show."""
    visible = "".join(
        " " if unicodedata.category(character) in {"Cc", "Zl", "Zp"} else character
        for character in text[: 10 * LONGEST_TEXT]
        if unicodedata.category(character) not in {"Cf", "Cs", "Co", "Cn"}
    )
    line = " ".join(visible.split())
    return line if len(line) <= LONGEST_TEXT else f"{line[: LONGEST_TEXT - 1]}…"


def _em_width(text: str) -> float:
    return sum(
        NARROW_WIDTH if character in NARROW else WIDE_WIDTH if character in WIDE else USUAL_WIDTH for character in text
    )


def _rows(line: Line) -> str:
    return "one" if line.rows == 1 else "two"


def _line_box(line: Line, *, slot: Slot) -> str:
    return f"{_box(slot.x + line.x, slot.y + line.y, line.width, line.height)};font-size:{_number(line.size)}mm"


def _box(x: float, y: float, width: float, height: float) -> str:
    return f"left:{_number(x)}mm;top:{_number(y)}mm;width:{_number(width)}mm;height:{_number(height)}mm"


def _number(length: float) -> str:
    return f"{length:.4f}".rstrip("0").rstrip(".")
