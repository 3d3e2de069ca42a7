"""The list of a hand-out day: who gets which instrument, class by class."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.template.loader import render_to_string

from core.pdf import render_pdf
from loans.models import Assignment


def hand_out_pdf(assignment: Assignment, groups: Sequence[dict[str, Any]], *, today: date) -> bytes:
    """Return the list, US Letter, a page for each class, with a box to tick before each line."""
    facts = {"assignment": assignment, "groups": groups, "today": today}
    return render_pdf(
        html=render_to_string("loans/papers/hand_out.html", facts),
        stylesheets=[render_to_string("loans/papers/hand_out.css")],
        is_tagged=True,
    )
