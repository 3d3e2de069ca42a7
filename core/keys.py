"""Keys of rows as a request names them: text of any length, from anybody."""

from __future__ import annotations

from collections.abc import Iterable

LONGEST = 18  # digits; any such number fits into the column of a key


def key_of(text: str) -> int | None:
    """Return the key that the text is, or None where no row can have it."""
    return int(text) if text.isdecimal() and len(text) <= LONGEST else None


def keys_of(texts: Iterable[str]) -> list[int]:
    """Return the keys among the texts, in their order."""
    return [key for text in texts if (key := key_of(text)) is not None]
