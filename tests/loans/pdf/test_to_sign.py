"""A stack to sign, read back by a PDF reader and a QR reader that share nothing with the writers."""

from __future__ import annotations

import re

import pypdfium2
import zxingcpp

from loans.models import Guardian
from loans.pdf.to_sign import papers_to_sign_pdf
from loans.services.to_sign import print_papers
from tests.factories import NOW, make_student
from tests.loans.makers import make_loan

HOME = "https://horns.example"


def test_each_paper_has_its_own_page_its_language_and_its_code(school, director):
    english, spanish = make_student(school=school, name="Robin Reed"), make_student(school=school, name="Ana Rivera")
    Guardian.objects.filter(student=spanish).update(language="es")
    make_loan(school=school, student=english, actor=director)
    papers = print_papers(students=[english, spanish], actor=director, at=NOW)
    with pypdfium2.PdfDocument(papers_to_sign_pdf(papers, home=HOME)) as document:
        pages = [re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()) for page in document]
        codes = [zxingcpp.read_barcodes(page.render(scale=2).to_pil())[0].text for page in document]
    assert len(pages) == 2
    assert codes == [f"HTTPS://HORNS.EXAMPLE/P/{paper.code}" for paper in papers]
    for paper, page, said in zip(papers, pages, ("Student: Robin Reed", "Estudiante: Ana Rivera"), strict=True):
        assert paper.shown_code in page
        assert said in page
    assert "Filled in by the school" not in pages[0]
    assert "Lo llena la escuela" in pages[1]
