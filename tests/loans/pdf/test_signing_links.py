"""The text of a link is the same bytes each time; its paper leads to the page, read back by a barcode reader."""

from __future__ import annotations

import io

import pypdfium2

from core.qr import texts_in
from loans.models import Guardian
from loans.pdf.signing_links import agreement_text, links_pdf
from loans.selectors.signing_links import address_of
from tests.factories import make_student
from tests.loans.makers import make_loan, make_signing_link

HOME = "https://horns.district.example"


def test_the_text_is_of_one_child_and_one_horn_and_the_same_each_time(school):
    loan, other = make_loan(school=school), make_loan(school=school)
    Guardian.objects.create(student=loan.student, place=2, name="Second Parent", email="second@home.example")
    make_student(school=school, name="Another Child")
    link, token = make_signing_link(loan)
    text = agreement_text(link, token=token)
    assert text == agreement_text(link, token=token.lower())
    assert loan.student.name.encode() in text
    assert loan.instrument.serial.encode() in text
    for foreign in (other.student.name, other.instrument.asset_number, "Another Child", "Second Parent", "@"):
        assert foreign.encode() not in text
    second, key = make_signing_link(loan, guardian=Guardian.objects.get(place=2))
    assert b"Second Parent" in agreement_text(second, token=key)
    assert loan.student.guardian.name.encode() not in agreement_text(second, token=key)


def test_the_code_on_the_paper_leads_to_the_page(db):
    link, token = make_signing_link(make_loan())
    with pypdfium2.PdfDocument(links_pdf([(link, token)], home=HOME)) as paper:
        assert len(paper) == 1
        out = io.BytesIO()
        paper[0].render(scale=2).to_pil().save(out, "PNG")
        words = paper[0].get_textpage().get_text_range()
    assert texts_in(out.getvalue()) == {address_of(token, home=HOME)}
    assert link.loan.student.name in words
