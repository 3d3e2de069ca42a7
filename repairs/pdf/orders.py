"""The shopping list and the packing slip as PDF."""

from __future__ import annotations

from typing import Any

from django.template.loader import render_to_string

from core.pdf import render_pdf
from repairs.pdf.sheet import tag_code
from repairs.selectors.stock import Shopping


def shopping_pdf(shopping: Shopping) -> bytes:
    """Return the shopping list, US Letter, with a box to tick before each line."""
    return render_pdf(
        html=render_to_string("repairs/papers/shopping.html", {"shopping": shopping}),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        is_tagged=True,
    )


def packing_slip_pdf(slip: dict[str, Any]) -> bytes:
    """Return the paper that goes into the case; the tag's code leads back to the instrument."""
    assets, code = tag_code(slip["tag_url"])
    context = {"slip": slip, "order": slip["order"], "code": code}
    return render_pdf(
        html=render_to_string("repairs/papers/packing_slip.html", context),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        assets=assets,
        is_tagged=True,
    )
