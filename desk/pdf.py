"""The day plan as PDF."""

from __future__ import annotations

from typing import Any

from django.template.loader import render_to_string

from core.pdf import PdfTooLongError, render_pdf

SIZES = (9.5, 8.5, 7.5)  # type sizes in points, largest first
LONG_SIZE = 8.5  # if no size fits on one page
MOST_PAGES = 12  # a week of short steps


def bench_day_pdf(day: dict[str, Any]) -> bytes:
    """Return the day plan on US Letter: one page in the largest type that fits, otherwise as many as it takes."""
    html = render_to_string("desk/papers/bench_day.html", {"day": day})
    for size in SIZES:
        try:
            return _rendered(html, size=size, most_pages=1)
        except PdfTooLongError:
            continue
    return _rendered(html, size=LONG_SIZE, most_pages=MOST_PAGES)


def _rendered(html: str, *, size: float, most_pages: int) -> bytes:
    sheet = render_to_string("desk/papers/bench_day.css", {"size": f"{size:.1f}"})
    return render_pdf(html=html, stylesheets=[sheet], is_tagged=True, most_pages=most_pages)
