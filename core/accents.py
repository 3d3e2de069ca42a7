"""Text as it is compared, whatever accents somebody typed."""

from __future__ import annotations

import unicodedata


def without_accents(text: str) -> str:
    """Return the text case-folded and without accents: "Flûte" is "flute"; letters that have no plain form stay."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter))
