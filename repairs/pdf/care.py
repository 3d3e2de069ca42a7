"""The sheet of a class-set care day, and the card a student takes home."""

from __future__ import annotations

from django.template.loader import render_to_string

from core.pdf import render_pdf
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from repairs.selectors.care import CareDay


def care_day_pdf(day: CareDay) -> bytes:
    """Return the sheet, US Letter: a box for every instrument under every piece of care that is due."""
    return render_pdf(
        html=render_to_string("repairs/papers/care_day.html", {"day": day}),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        is_tagged=True,
    )


def care_card_pdf(kind: Kind) -> bytes:
    """Return the card of a kind, half a Letter page, to print two to a sheet or read on a phone."""
    return render_pdf(
        html=render_to_string(
            "repairs/papers/care_card.html", {"kind": kind, "is_known": kind.code in catalog().kinds}
        ),
        stylesheets=[render_to_string("repairs/papers/care_card.css")],
        is_tagged=True,
        most_pages=1,
    )
