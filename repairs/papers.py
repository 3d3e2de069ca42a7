"""The shopping list and the packing slip as PDF."""

from __future__ import annotations

from django.template.loader import render_to_string

from core.pdf import SCHEME, render_pdf
from core.qr import png_1bit
from repairs.selectors.order_page import Slip
from repairs.selectors.stock import Shopping

CODE = "tag.png"
MODULE_PX = 8


def shopping_pdf(shopping: Shopping) -> bytes:
    """Return the shopping list, US Letter, with a box to tick before each line."""
    return render_pdf(
        html=render_to_string("repairs/papers/shopping.html", {"shopping": shopping}),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        is_tagged=True,
    )


def packing_slip(slip: Slip) -> bytes:
    """Return the paper that goes into the case with a horn; the tag's code leads back to it."""
    assets = {CODE: png_1bit(slip.tag_url, module_px=MODULE_PX)} if slip.tag_url else {}
    context = {"slip": slip, "order": slip.order, "code": f"{SCHEME}{CODE}" if assets else ""}
    return render_pdf(
        html=render_to_string("repairs/papers/packing_slip.html", context),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        assets=assets,
        is_tagged=True,
    )
