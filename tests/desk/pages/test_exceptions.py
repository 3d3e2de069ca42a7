"""Exceptions in words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from desk.pages.exceptions import exception_rows, line_of, order_words, rule_lines
from desk.selectors.exceptions import RULES
from inventory.models import Instrument, School
from loans.models import Loan
from repairs.models import ShopOrder

HORN = Instrument(pk=3, asset_number="CF0003", kind_code="trumpet", school=School(name="Elm Street Middle"))
LIMIT = Decimal(250)


@pytest.mark.parametrize(
    ("rule", "order", "words", "on"),
    [
        (
            "no-job",
            {"invoice_amount": Decimal(90), "invoice_number": "77", "invoice_on": date(2026, 9, 1)},
            "Bill 77, $90",
            date(2026, 9, 1),
        ),
        ("no-job", {"invoice_amount": Decimal(90)}, "Bill without a number, $90", None),
        (
            "over-limit",
            {"invoice_amount": Decimal(900), "approved_amount": Decimal(300)},
            "Bill $900, approved $300, limit $250",
            None,
        ),
        ("over-limit", {"estimate_amount": Decimal(900)}, "Estimate $900, approved $0, limit $250", None),
    ],
)
def test_an_order_says_its_figures(rule, order, words, on):
    assert order_words(rule, ShopOrder(**order), limit=LIMIT) == (words, on)


@pytest.mark.parametrize(("rule", "words"), [("overdue", "Due Sep 9, 2026"), ("unsigned", "Out since Sep 1, 2026")])
def test_a_loan_says_its_day_and_leads_to_its_page(rule, words):
    loan = Loan(pk=5, instrument=HORN, lent_on=date(2026, 9, 1), due_on=date(2026, 9, 9))
    line = line_of(rule, loan, reasons={}, limit=LIMIT)
    assert (line.words, line.url) == (words, "/loans/5/")


def test_an_instrument_says_why_it_should_not_be_out():
    line = line_of("never-issue", HORN, reasons={3: "It falls."}, limit=LIMIT)
    assert (line.words, line.url) == ("It falls.", "/i/CF0003/")
    assert list(exception_rows([("no-tag", line)])) == [
        ("No tag", "CF0003", HORN.kind.name, "Elm Street Middle", "It falls.", None)
    ]


def test_each_rule_has_a_line_that_leads_to_its_rows():
    lines = rule_lines(dict.fromkeys(RULES, 2))
    assert [line["url"] for line in lines] == [f"/log/exceptions/{rule}/" for rule in RULES]
    assert {line["count"] for line in lines} == {2}
