"""Receipts and statements, read back by an independent reader."""

from __future__ import annotations

import pypdfium2
import pytest

from loans.pdf.ledger import receipt_pdf, statement_pdf
from tests.factories import NOW, make_director, make_school, make_student
from tests.loans.makers import make_entry, make_returned_loan

pytestmark = pytest.mark.django_db


def text_of(data: bytes) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data))


def test_a_refund_has_a_number_too_and_the_same_arguments_give_the_same_bytes():
    student = make_student(school=make_school(code="ELM"), name="Robin <Reed>")
    make_entry(student=student, sort="payment", amount=50, reckoning={"by": "cash"})
    entry = make_entry(student=student, sort="refund", amount="12.50", reckoning={"by": "check"}, note="No. 7")
    data = receipt_pdf(entry, language="es", at=NOW)
    text = text_of(data)
    for said in (f"Devolución ELM-{entry.pk:06d}", "$12.50", "cheque", "No. 7", "Robin <Reed>", "−$37.50"):
        assert said in text
    assert data == receipt_pdf(entry, language="es", at=NOW)


def test_a_statement_says_what_each_entry_was_about():
    loan = make_returned_loan()
    make_entry(student=loan.student, sort="damage", amount=40, loan=loan, actor=loan.actor)
    sender = make_director(loan.school, name="Dana Director")
    text = text_of(statement_pdf(loan.student, language="es", sender=sender, at=NOW))
    for said in ("Cargo por daño", f"Trompeta {loan.instrument.asset_number}", "Saldo por pagar: $40", "Dana Director"):
        assert said in text
    make_entry(student=loan.student, sort="payment", amount=45, actor=loan.actor)
    text = text_of(statement_pdf(loan.student, language="en", sender=sender, at=NOW))
    assert "The school owes you $5" in text
    settled = make_student(name="Bo")
    assert "Nothing is owed" in text_of(statement_pdf(settled, language="en", sender=sender, at=NOW))
