"""A purchase request in words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from core.money import dollars
from inventory.catalog.load import catalog
from inventory.models import Level, PurchaseRequest


def kind_words(code: str, size: str) -> str:
    return f"{catalog().kind(code).name} {size}".rstrip()


def new_words(code: str, size: str, make: str) -> str:
    """Return what is bought: its kind and size, and the make where it is better than a student's."""
    kind = kind_words(code, size)
    return kind if make == Level.STUDENT else f"{kind}, {Level(make).label.lower()}"


def request_page(request: PurchaseRequest) -> dict[str, Any]:
    """What the paper of a filed request shows."""
    return {
        "request": request,
        "lines": [
            {
                "count": line["count"],
                "what": new_words(line["kind"], line["size"], line["make"]),
                "each": dollars(line["each"]),
                "amount": dollars(Decimal(line["each"]) * line["count"]),
                "ready_on": date.fromisoformat(line["ready_on"]) if line["ready_on"] else None,
            }
            for line in request.lines
        ],
    }


def request_line(request: PurchaseRequest, *, may_close: bool = False) -> dict[str, Any]:
    """What a list says of a request."""
    return {
        "request": request,
        "may_close": may_close and request.closed_at is None,
        "what": ", ".join(
            f"{line['count']} × {new_words(line['kind'], line['size'], line['make'])}" for line in request.lines
        ),
    }
