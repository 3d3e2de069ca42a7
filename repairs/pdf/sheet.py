"""The bench sheet as PDF: one page, whatever the instrument."""

from __future__ import annotations

from math import sqrt

from django.template.loader import render_to_string

from core.pdf import SCHEME, PdfTooLongError, render_pdf
from core.qr import png_1bit
from repairs.pages.sheet import Sheet

# Type sizes in points, the most legible first, and what is left out where a plan is very long: the pictures, whose
# findings stand in words, then the harder ways, which the phone shows anyway, then the text of the cautions, whose names
# stand at each step.
SIZES = (9.5, 8.8, 8.0)
LONG_PLANS = (
    (8.0, True, True), (7.2, True, True), (7.2, True, False), (7.0, False, False), (6.2, False, False), (5.4, False, False)
)  # fmt: skip
ROOM = 250_000.0  # letters times type size squared that ever fit with the pictures, measured on sheets of 2 to 12 steps
LETTERS_PER_PIECE = 12  # what the end of a line wastes
CODE = "tag.png"
MODULE_PX = 8


def tag_code(url: str) -> tuple[dict[str, bytes], str]:
    """Return the picture to hand to the renderer, and the address its HTML names it by; both empty without a tag."""
    if not url:
        return {}, ""
    return {CODE: png_1bit(url, module_px=MODULE_PX)}, f"{SCHEME}{CODE}"


def bench_sheet_pdf(sheet: Sheet) -> bytes:
    """Return the sheet on one page of US Letter: the largest type that fits; the same sheet gives the same bytes.

    Raises PdfTooLongError for a plan that no legible type brings onto one page.
    """
    promising = _promising(sheet)
    layouts = [(size, True, True, True) for size in SIZES if size <= promising]
    layouts += [(size, False, has_cautions, has_rungs) for size, has_cautions, has_rungs in LONG_PLANS]
    for size, has_pictures, has_cautions, has_rungs in layouts[:-1]:
        try:
            return _rendered(
                sheet, size=size, has_pictures=has_pictures, has_cautions=has_cautions, has_rungs=has_rungs
            )
        except PdfTooLongError:
            continue
    size, has_pictures, has_cautions, has_rungs = layouts[-1]
    return _rendered(sheet, size=size, has_pictures=has_pictures, has_cautions=has_cautions, has_rungs=has_rungs)


def _promising(sheet: Sheet) -> float:
    """Return the type size to try first: laying out is slow, and what is far too long need not be tried large."""
    pieces = [*sheet.findings, *sheet.sent_out, *sheet.left, *sheet.tools, *(f"{a} {b}" for a, b in sheet.cautions)]
    pieces += [
        f"{step.say} {step.where} {step.minutes} {step.parts} {step.hazards} {step.after}" for step in sheet.steps
    ]
    letters = sum(len(piece) + LETTERS_PER_PIECE for piece in pieces)
    return sqrt(ROOM / max(letters, 1))


def _rendered(sheet: Sheet, *, size: float, has_pictures: bool, has_cautions: bool, has_rungs: bool) -> bytes:
    assets, code = tag_code(sheet.tag_url)
    context = {
        "sheet": sheet,
        "code": code,
        "has_pictures": has_pictures,
        "has_rungs": has_rungs,
        "has_cautions": has_cautions,
    }
    return render_pdf(
        html=render_to_string("repairs/sheet/sheet.html", context),
        stylesheets=[render_to_string("repairs/sheet/sheet.css", {"size": f"{size:.1f}"})],
        assets=assets,
        most_pages=1,
    )
