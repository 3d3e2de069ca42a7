"""The bench sheet as PDF: one page, and more for a plan that no legible type brings onto one."""

from __future__ import annotations

from functools import cache
from math import sqrt

from django.template.loader import render_to_string

from core.pdf import SCHEME, LaidOut
from core.qr import png_1bit
from repairs.pages.sheet import Sheet

# Type sizes in points with the pages they may take: the small print is 0.88 of it and stays above 7.
LAYOUTS = ((9.5, 1), (8.8, 1), (8.0, 1), (8.8, 2))
SIZE_OF_MANY_PAGES = 8.0
ROOM = 250_000.0  # letters times type size squared that ever fit on a page, measured on sheets of 2 to 12 steps
LETTERS_PER_PIECE = 12  # what the end of a line wastes
CODE = "tag.png"
MODULE_PX = 8


def tag_code(url: str) -> tuple[dict[str, bytes], str]:
    """Return the picture to hand to the renderer, and the address its HTML names it by; both empty without a tag."""
    if not url:
        return {}, ""
    return {CODE: png_1bit(url, module_px=MODULE_PX)}, f"{SCHEME}{CODE}"


def bench_sheet_pdf(sheet: Sheet) -> bytes:
    """Return the sheet on US Letter, in the largest type that fits on one page; the same sheet gives the same bytes."""
    promising = _promising(sheet)
    assets, code = tag_code(sheet.tag_url)
    html = render_to_string("repairs/sheet/sheet.html", {"sheet": sheet, "code": code})

    @cache  # each size once
    def laid_out(size: float) -> LaidOut:
        css = render_to_string("repairs/sheet/sheet.css", {"size": f"{size:.1f}"})
        return LaidOut(html=html, stylesheets=[css], assets=assets)

    for size, most_pages in LAYOUTS:
        if size <= promising * sqrt(most_pages) and laid_out(size).pages <= most_pages:
            return laid_out(size).pdf()
    return laid_out(SIZE_OF_MANY_PAGES).pdf()


def _promising(sheet: Sheet) -> float:
    """Return the type size to try first on one page: laying out is slow, and what is far too long need not be tried."""
    pieces = [
        *(line.words for line in sheet.findings),
        *sheet.sent_out,
        *sheet.left,
        *sheet.tools,
        *(f"{a} {b}" for a, b in sheet.cautions),
    ]
    pieces += [
        f"{step.say} {step.where} {step.minutes} {step.parts} {step.hazards} {step.after}" for step in sheet.steps
    ]
    letters = sum(len(piece) + LETTERS_PER_PIECE for piece in pieces)
    return sqrt(ROOM / max(letters, 1))
