"""A list on paper, and the copy of what is held on a student."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.template.loader import render_to_string

from core.days import full_day
from core.pdf import render_pdf
from core.sheets import OutValue


def list_pdf(*, title: str, header: Sequence[Any], rows: Iterable[Sequence[OutValue]], at: datetime) -> bytes:
    """Return the rows as a table on US Letter, across, with the heading again on each page."""
    lines = [[full_day(cell) if isinstance(cell, date) else cell for cell in row] for row in rows]
    html = render_to_string("loans/papers/list.html", {"title": title, "header": header, "rows": lines, "at": at})
    return render_pdf(html=html, stylesheets=[render_to_string("loans/papers/list.css")], is_tagged=True)


def copy_pdf(*, title: str, school: str, sections: Sequence[Any], at: datetime) -> bytes:
    """Return what is held on a student (loans.selectors.held) as a paper for the guardian, on US Letter."""
    context = {"title": title, "school": school, "sections": sections, "at": at}
    html = render_to_string("loans/papers/copy.html", context)
    sheets = [render_to_string("loans/papers/list.css"), "@page { size: letter; margin: 18mm; }"]
    return render_pdf(html=html, stylesheets=sheets, is_tagged=True)
