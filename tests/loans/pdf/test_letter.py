"""Letters on paper, read back by an independent reader."""

from __future__ import annotations

import pypdfium2

from loans.pages.letters import Letter
from loans.pdf.letter import letters_pdf
from tests.factories import NOW


def letter(**changed) -> Letter:
    said = {
        "language": "en", "sender": ("Elm Street Middle", "1 Elm Street", "555-0100"), "to": ("Gale Reed", "Student: Robin Reed"),
        "day": "June 1, 2027", "subject": "Trumpet TD-0042: was due back on May 28, 2027", "greeting": "Dear Gale Reed,",
        "paragraphs": ("It was due back.", "Please call us."), "person": "Dana Director",
    }  # fmt: skip
    return Letter(**said | changed)


def test_each_letter_has_a_page_of_its_own_and_its_address_in_the_window():
    spanish = letter(language="es", greeting="Estimada señora Peña:", to=("Señora Peña",))
    with pypdfium2.PdfDocument(letters_pdf([letter(), spanish], at=NOW)) as document:
        texts = [page.get_textpage() for page in document]
        assert len(texts) == 2
        assert "Trumpet TD-0042: was due back" in texts[0].get_text_range()
        assert "Estimada señora Peña:" in texts[1].get_text_range()
        found = texts[0].search("Gale Reed").get_next()
        left, _bottom, _right, top = texts[0].get_charbox(found[0])
        height = document[0].get_height()
    # A letter in three folds: a window of 1 1/8 by 4 1/2 inches, 7/8 inch from the left (common practice, no source).
    assert 0.875 * 72 - 4 <= left <= 5.375 * 72
    assert 1.75 * 72 <= height - top <= 3.2 * 72


def test_whom_it_is_for_shows_in_the_window_wherever_the_sheet_lies():
    """Of a sheet folded in three, 0.88 to 4.38 in from the left and 2.5 to 3.17 in from the top (letters.css)."""
    with pypdfium2.PdfDocument(
        letters_pdf([letter(sender=("Elm Street Middle", "1 Elm Street, " * 9))], at=NOW)
    ) as one:
        top, page = one[0].get_height(), one[0].get_textpage()
        shown = page.get_text_bounded(left=63, right=315, top=top - 2.5 * 72, bottom=top - 3.17 * 72)
    assert shown.split("\r\n") == ["Gale Reed", "Student: Robin Reed"]
