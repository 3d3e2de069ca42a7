"""The bench sheet as PDF: one page, whatever the instrument."""

from __future__ import annotations

import re

from django.template.loader import render_to_string

from core.pdf import SCHEME, render_pdf
from core.qr import png_1bit
from repairs.selectors.sheet import Sheet

CODE = "tag.png"
MODULE_PX = 8
PAGE_OBJECT = re.compile(rb"/Type\s*/Page\b")
# Type sizes in points, the most legible first. What no size fits is printed at the last without the harder rungs.
SIZES = (9.2, 8.4, 7.6, 6.9, 6.3)


def bench_sheet(sheet: Sheet) -> bytes:
    """Return the sheet on one page of US Letter: the largest type that fits; the same sheet gives the same bytes."""
    pdf = b""
    for size, has_rungs in (*((size, True) for size in SIZES), (SIZES[-1], False)):
        pdf = _rendered(sheet, size=size, has_rungs=has_rungs)
        if pages_of(pdf) == 1:
            break
    return pdf


def pages_of(pdf: bytes) -> int:
    """Count the pages of a PDF as the renderer writes them: plain objects, one of type Page each."""
    return len(PAGE_OBJECT.findall(pdf))


def _rendered(sheet: Sheet, *, size: float, has_rungs: bool) -> bytes:
    assets = {CODE: png_1bit(sheet.tag_url, module_px=MODULE_PX)} if sheet.tag_url else {}
    context = {"sheet": sheet, "code": f"{SCHEME}{CODE}" if assets else "", "has_rungs": has_rungs}
    return render_pdf(
        html=render_to_string("repairs/sheet/sheet.html", context),
        stylesheets=[render_to_string("repairs/sheet/sheet.css", {"size": f"{size:.1f}"})],
        assets=assets,
    )
