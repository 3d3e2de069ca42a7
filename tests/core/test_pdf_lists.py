"""A list on paper says all its rows, read back by another reader, and gives its columns room by what stands in them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pypdfium2

from core.pdf_lists import list_pdf
from core.sheets import Share
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


def test_it_says_what_it_was_narrowed_to_and_writes_amounts_and_days_as_people_do():
    rows = [("TV-0001", Decimal("1216.8"), TODAY + timedelta(days=1), Share("0.0532"))]
    header = ("Number", "Cost", "Due", "Of a new one")
    text = text_of(list_pdf(title="Jobs", header=header, rows=rows, at=NOW, under="Flute, Elm"))
    assert all(words in text for words in ("Flute, Elm", "1,216.80", "Sep 15, 2026", "5.3%"))


def test_no_word_of_a_heading_is_broken_where_other_columns_are_long():
    """Common practice, no source."""
    words = ("Award number", "Federal percent", "Acquired on", "Location", "Condition", "Disposed of on")
    header = (*words, *(f"Text {number}" for number in range(10)))
    rows = [("",) * len(words) + ("A description of some length",) * 10] * 3
    text = text_of(list_pdf(title="Record", header=header, rows=rows, at=NOW))
    assert [word for name in words for word in name.split() if word not in text.split()] == []


def test_an_empty_list_is_a_page_with_its_heading():
    assert "Number" in text_of(list_pdf(title="Jobs", header=("Number",), rows=[], at=NOW))


def test_a_list_of_many_columns_stays_on_its_page():
    header = tuple(f"Column {number}" for number in range(16))
    pdf = pypdfium2.PdfDocument(list_pdf(title="Record", header=header, rows=[("A long text of words",) * 16], at=NOW))
    width = pdf[0].get_width()
    page = pdf[0].get_textpage()
    assert max(page.get_rect(at)[2] for at in range(page.count_rects())) < width
