"""Purchase requests for tests, through the service."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from inventory.models import PurchaseRequest, School
from inventory.services.purchasing import Wanted, request_purchase
from tests.factories import NOW, TODAY, make_director, make_school


def wanted(**overrides: Any) -> Wanted:
    """Two student tubas at $2,100.50 each."""
    fields: dict[str, Any] = {
        "kind": "tuba", "size": "", "make": "student", "count": 2, "each": Decimal("2100.50"),
        "ready_on": TODAY + timedelta(days=60),
    }  # fmt: skip
    return Wanted(**(fields | overrides))


def make_purchase_request(*, school: School | None = None, **overrides: Any) -> PurchaseRequest:
    school = school or make_school()
    fields: dict[str, Any] = {
        "lines": [wanted()], "seated": 9, "wanted": 10, "for_whom": "Wind band", "actor": None, "at": NOW,
    } | overrides  # fmt: skip
    fields["actor"] = fields["actor"] or make_director(school)
    return request_purchase(school=school, **fields)
