"""The copy says all that is held, read back by another reader."""

from __future__ import annotations

import pypdfium2

from loans.pdf.copies import copy_pdf
from loans.selectors.held import Section
from tests.factories import NOW


def text_of(pdf):
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def test_a_copy_says_every_section():
    sections = [Section("Guardians", [("Phone", "555-0177")]), Section("Loans", [("TV-0001 Flute", "out now")])]
    text = text_of(copy_pdf(title="What we hold", school="Elm", sections=sections, at=NOW))
    assert all(words in text for words in ("What we hold", "Elm", "Guardians", "555-0177", "TV-0001 Flute", "out now"))
