"""The copy of what is held on a student."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from core.pdf import render_pdf


def copy_pdf(*, title: str, school: str, sections: Sequence[Any], at: datetime) -> bytes:
    """Return what is held on a student (loans.selectors.held) as a paper for the guardian, on US Letter."""
    context = {"title": title, "school": school, "sections": sections, "at": at}
    html = render_to_string("loans/papers/copy.html", context)
    sheets = [render_to_string("core/papers/list.css"), "@page { size: letter; margin: 18mm; }"]
    return render_pdf(html=html, stylesheets=sheets, is_tagged=True)
