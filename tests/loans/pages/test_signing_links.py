"""What a guardian reads, in the guardian's language, and without the student's name before the agreement."""

from __future__ import annotations

from loans.models import Guardian, SigningLink
from loans.pages.signing_links import gone_page, link_letter, link_line, link_words
from loans.selectors.signing_links import Standing
from tests.factories import NOW
from tests.loans.makers import make_loan, make_signing_link


def test_letter_and_end_are_in_spanish_and_name_no_student(db):
    loan = make_loan()
    Guardian.objects.update(language="es", name="Olga Ruiz", email="olga@home.example")
    link, _ = make_signing_link(loan, at=NOW)
    letter = link_letter(link, token="ABC", home="https://horns.example")
    assert letter["to"] == "olga@home.example"
    assert letter["subject"].startswith("Por favor firme: acuerdo de préstamo")
    assert "HTTPS://HORNS.EXAMPLE/S/ABC" in letter["words"]
    assert loan.instrument.asset_number in letter["words"]
    page = gone_page(link, Standing.EXPIRED)
    assert page["gone"] == "Ya venció. Pida uno nuevo a la escuela."
    for shown in (letter, page):
        assert loan.student.name not in str(shown)


def test_staff_read_where_it_stands_since_when(db):
    link, _ = make_signing_link(make_loan(), at=NOW)
    line = link_line(link, Standing.SENT)
    assert line["standing"] == "Sent, not opened yet"
    assert link_words(link, Standing.SENT) == "Printed on Sep 14, 2026"
    assert link_words(link, Standing.EXPIRED) == "Expired on Sep 28, 2026"
    assert link_words(link, Standing.CHANGED) == "Replaced by a newer agreement"
    link.way, link.opened_at = SigningLink.Way.MAIL, NOW
    assert link_words(link, Standing.SENT) == "Sent on Sep 14, 2026"
    assert link_words(link, Standing.OPENED) == "Opened on Sep 14, 2026"
    assert (line["since"], line["until"]) == ("Sep 14, 2026", "Sep 28, 2026")
