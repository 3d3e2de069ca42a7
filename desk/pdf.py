"""The bench's day on one sheet of paper."""

from __future__ import annotations

from django.template.loader import render_to_string

from core.pdf import PdfTooLongError, render_pdf
from desk.selectors.bench_day import BenchDay

SIZES = (9.5, 8.5, 7.5, 6.5)  # type sizes in points, the most legible first


def bench_day_pdf(day: BenchDay) -> bytes:
    """Return the day on one page of US Letter in the largest type that fits; PdfTooLongError where none does."""
    html = render_to_string("desk/papers/bench_day.html", {"day": day})
    for size in SIZES[:-1]:
        try:
            return _rendered(html, size=size)
        except PdfTooLongError:
            continue
    return _rendered(html, size=SIZES[-1])


def _rendered(html: str, *, size: float) -> bytes:
    sheet = render_to_string("desk/papers/bench_day.css", {"size": f"{size:.1f}"})
    return render_pdf(html=html, stylesheets=[sheet], is_tagged=True, most_pages=1)
