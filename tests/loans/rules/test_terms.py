"""Lead-ins in bold: common practice, no source."""

from __future__ import annotations

import pytest

from loans.rules.terms import paragraphs_of


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Care. Keep it dry.", [("Care.", " Keep it dry.")]),
        ("Note: it stays dry.", [("Note:", " it stays dry.")]),
        ("Keep it dry", [("", "Keep it dry")]),
        ("Keep it dry.", [("", "Keep it dry.")]),
        ("x" * 61 + ". Then.", [("", "x" * 61 + ". Then.")]),
        ("A.\n\n\n\nB. Then\nmore.", [("", "A."), ("B.", " Then\nmore.")]),
        ("v1.2 is out.", [("", "v1.2 is out.")]),
        ("", []),
    ],
)
def test_what_stands_before_the_first_period_or_colon_leads_in(text, parts):
    assert paragraphs_of(text) == parts
