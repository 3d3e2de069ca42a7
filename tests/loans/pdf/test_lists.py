"""The papers say all their rows, read back by another reader."""

from __future__ import annotations

import pypdfium2

from loans.pdf.lists import copy_pdf, list_pdf
from loans.selectors.held import Section
from tests.factories import NOW, TODAY


def text_of(pdf):
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def test_every_row_is_on_paper_and_the_heading_on_each_page():
    rows = [(f"TV-{number:04d}", "Robin <b>Reed</b>", TODAY, None) for number in range(120)]
    pdf = list_pdf(title="Loans", header=("Number", "Student", "Due", "Returned"), rows=rows, at=NOW)
    text = text_of(pdf)
    assert all(number in text for number, *_ in rows)
    assert "Robin <b>Reed</b>" in text
    assert "None" not in text
    pages = len(pypdfium2.PdfDocument(pdf))
    assert pages > 1
    assert text.count("Returned") == pages


def test_a_copy_says_every_section():
    sections = [Section("Guardians", [("Phone", "555-0177")]), Section("Loans", [("TV-0001 Flute", "out now")])]
    text = text_of(copy_pdf(title="What we hold", school="Elm", sections=sections, at=NOW))
    assert all(words in text for words in ("What we hold", "Elm", "Guardians", "555-0177", "TV-0001 Flute", "out now"))
