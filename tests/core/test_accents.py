"""Accents fall away, as Unicode's compatibility decomposition has it (Unicode Standard Annex 15, Normalization Forms)."""

import pytest

from core.accents import without_accents


@pytest.mark.parametrize(
    ("typed", "compared"),
    [
        ("Flûte", "flute"),
        ("PEÑA", "pena"),
        ("e\u0301tude", "etude"),
        ("ﬁnish", "finish"),
        ("Straße", "strasse"),
        ("Øy", "øy"),
        ("", ""),
    ],
)
def test_text_is_compared_without_case_and_accents(typed, compared):
    assert without_accents(typed) == compared
