"""The shopping list and the packing slip as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.template.loader import render_to_string

from core.pdf import SCHEME, render_pdf
from repairs.pdf.sheet import tag_code
from repairs.selectors.stock import Shopping


def shopping_pdf(shopping: Shopping) -> bytes:
    """Return the shopping list, US Letter, with a box to tick before each line."""
    return render_pdf(
        html=render_to_string("repairs/papers/shopping.html", {"shopping": shopping}),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        is_tagged=True,
    )


def packing_slips_pdf(slips: Sequence[dict[str, Any]]) -> bytes:
    """Return the papers that go into the cases, one after the other; each tag's code leads back to its instrument."""
    assets: dict[str, bytes] = {}
    pages = []
    for number, slip in enumerate(slips):
        tag, _ = tag_code(slip["tag_url"])
        pictures = {f"photo-{number}-{at}.jpg": photo for at, photo in enumerate(slip["photos"])}
        for name, photo in pictures.items():
            with photo.small.open("rb") as file:
                assets[name] = file.read()
        assets |= {f"{number}-{name}": content for name, content in tag.items()}
        code = next((f"{SCHEME}{number}-{name}" for name in tag), "")
        pages.append({"slip": slip, "code": code, "pictures": [f"{SCHEME}{name}" for name in pictures]})
    return render_pdf(
        html=render_to_string("repairs/papers/packing_slip.html", {"pages": pages, "first": slips[0]}),
        stylesheets=[render_to_string("repairs/papers/paper.css")],
        assets=assets,
        is_tagged=True,
    )
