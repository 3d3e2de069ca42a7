"""Asset numbers as people type them: "tv19" for TV-0019."""

from __future__ import annotations

import re

_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_MARKS = re.compile(r"[\s._/#–-]+")
_NOT_BETWEEN_DIGITS = re.compile(r"(?<!\d)-|-(?!\d)")
_TYPED = re.compile(r"([^\W\d_]+)(\d+)")


def number_key(text: str) -> str:
    """Return what numbers that a person takes for the same have in common: no zeros in front, one sign between digits."""
    return _NOT_BETWEEN_DIGITS.sub("", _MARKS.sub("-", _LEADING_ZEROS.sub("", text))).upper()


def letters_and_digits(text: str) -> tuple[str, str]:
    """Return how the number begins and how it ends, of letters followed by digits; two empty strings of all else."""
    found = _TYPED.fullmatch(number_key(text))
    return (found[1], found[2]) if found else ("", "")
