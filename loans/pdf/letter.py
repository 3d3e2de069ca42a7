"""Letters to families on paper, one or a stack, to be folded into window envelopes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.template.loader import render_to_string

from core.pdf import render_pdf
from loans.pages.letters import Letter


def letters_pdf(letters: Sequence[Letter], *, at: datetime) -> bytes:
    """Return the letters in the given order on US Letter, each from a page of its own."""
    html = render_to_string("loans/papers/letters.html", {"letters": letters, "at": at})
    return render_pdf(html=html, stylesheets=[render_to_string("loans/papers/letters.css")], is_tagged=True)
