"""The terms to begin with say what agreements of school programs say (common practice, no source)."""

import pytest

from loans.rules.terms import DEFAULT_TERMS


@pytest.mark.parametrize(
    "topic",
    [
        "serial number",
        "tag",
        "condition",
        "accessories",
        "replacement value",
        "charged",
        "repairs",
        "next school day",
        "return date",
        "not lent to anyone else",
        "Normal wear is not charged",
    ],
)
def test_the_terms_cover(topic):
    assert topic in DEFAULT_TERMS


def test_the_terms_are_paragraphs_within_the_length_of_the_field():
    assert len(DEFAULT_TERMS) < 20_000
    assert len([part for part in DEFAULT_TERMS.split("\n\n") if part.strip()]) >= 8
