"""A purchase request in words."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from desk.pages.purchases import new_words, request_line, request_page
from inventory.models import PurchaseRequest
from inventory.services.purchasing import _plain
from tests.factories import TODAY
from tests.inventory.purchase_makers import wanted


def test_each_line_says_what_it_costs():
    """2 × $2,100.50 = $4,201, by hand."""
    request = PurchaseRequest(lines=_plain([wanted(), wanted(make="intermediate", count=1, each=Decimal(900))]))
    first, second = request_page(request)["lines"]
    assert first == {
        "count": 2, "what": "Tuba", "each": "$2,100.50", "amount": "$4,201", "ready_on": TODAY + timedelta(days=60),
    }  # fmt: skip
    assert (second["what"], second["amount"]) == ("Tuba, intermediate", "$900")
    assert request_line(request)["what"] == "2 × Tuba, 1 × Tuba, intermediate"


def test_a_day_that_nobody_knows_stays_open():
    request = PurchaseRequest(lines=_plain([wanted(ready_on=None)]))
    assert request_page(request)["lines"][0]["ready_on"] is None


def test_a_size_is_named_and_a_student_make_is_not():
    assert new_words("violin", "1/2", "student") == "Violin 1/2"
