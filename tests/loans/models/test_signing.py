"""Papers to sign as rows."""

from __future__ import annotations

from loans.models import PaperToSign


def test_its_code_is_printed_in_groups_and_leads_to_it():
    paper = PaperToSign(code="ABCD2345")
    assert str(paper) == "ABCD-2345"
    assert paper.address("https://horns.example/") == "HTTPS://HORNS.EXAMPLE/P/ABCD2345"
    assert paper.address("") == "ABCD2345"
