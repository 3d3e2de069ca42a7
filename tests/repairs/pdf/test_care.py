"""Care on paper: every kind's card fits its page, and a class set's sheet holds every instrument."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from pypdfium2.raw import FPDF_PAGEOBJ_PATH

from inventory.catalog.load import catalog
from repairs.pdf import care_card_pdf, care_day_pdf
from repairs.selectors.care import care_day, cared_for
from tests.factories import NOW, make_ready_instrument


def pages_of(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def text_of(pdf: bytes) -> str:
    return " ".join(pages_of(pdf))


@pytest.mark.parametrize("code", ["trumpet", "horn_double", "trombone", "clarinet_bb", "violin", "timpani_set"])
def test_a_card_says_daily_weekly_and_never_on_one_page(code):
    kind = catalog().kinds[code]
    pdf = care_card_pdf(kind)
    assert len(pages_of(pdf)) == 1
    text = text_of(pdf)
    for heading in ("Every time you play", "Every week", "Never"):
        assert heading in text
    assert kind.card.never[0][:30] in text
    drawing = [one for one in pypdfium2.PdfDocument(pdf)[0].get_objects() if one.type == FPDF_PAGEOBJ_PATH]
    assert len(drawing) > 5  # two rules and what draws the silhouette


def test_the_sheet_of_a_care_day_has_every_due_instrument(school, tech):
    instruments = [make_ready_instrument(school=school, at=NOW - timedelta(days=1500)) for _ in range(3)]
    rows = cared_for(tech)
    text = text_of(care_day_pdf(care_day(rows, school=school, kind=rows[0].kind, now=NOW)))
    assert "Bathe it" in text
    assert all(instrument.asset_number in text for instrument in instruments)


def test_a_set_with_nothing_due_says_so(school, tech):
    make_ready_instrument(school=school, at=NOW)
    rows = cared_for(tech)
    assert "Nothing is due" in text_of(care_day_pdf(care_day(rows, school=school, kind=rows[0].kind, now=NOW)))
