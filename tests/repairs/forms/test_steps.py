from __future__ import annotations

from decimal import Decimal

import pytest

from repairs.forms import StepForm
from repairs.selectors.job_page import PartUse
from tests.factories import new_nonce

CORK = PartUse(code="cork", name="cork", unit="sheet", quantity=Decimal("0.5"), amount=Decimal("3.00"))
OIL = PartUse(code="oil", name="oil", unit="can", quantity=Decimal(1), amount=Decimal("8.00"))


def form(**data):
    sent = {"step": "x:y", "nonce": str(new_nonce()), "outcome": "done"} | data
    made = StepForm(sent, parts=(CORK, OIL))
    made.is_valid()
    return made


def test_what_was_used_is_priced_by_the_quantity():
    used = form(use_cork="1", use_oil="0").parts_used()
    assert used == [{"code": "cork", "quantity": "1", "amount": "6.00"}]


def test_nothing_asked_leaves_the_usual_to_the_service():
    assert form().parts_used() is None


def test_a_part_the_page_did_not_ask_for_is_not_counted():
    assert form(use_cork="0.5").parts_used() == [{"code": "cork", "quantity": "0.5", "amount": "3.00"}]


@pytest.mark.parametrize(
    "wrong",
    [
        {"nonce": "x"},
        {"outcome": "perfect"},
        {"minutes": "-3"},
        {"minutes": "9999"},
        {"use_cork": "lots"},
        {"step": ""},
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(wrong):
    made = form(**wrong)
    assert not made.is_valid()
    assert made.sentence
