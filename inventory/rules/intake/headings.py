"""The words above the columns of an inventory list, and which columns our own list of problem rows added."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from core.accents import without_accents
from inventory.columns import HEADINGS, MARK_COLUMN, PROBLEM_COLUMN, ROW_COLUMN

_SIGNS: Final = (("#", " number "), ("№", " number "), ("$", " dollars "), ("%", " percent "), ("&", " and "))
_NUMBER_WORDS: Final = re.compile(r"\b(?:no|num|nbr|nr|numbers)\b")


def normal_heading(text: str) -> str:
    """Return the heading as it is compared: lower case, no accents or points, "#" and "no." as "number"."""
    for sign, word in _SIGNS:
        text = text.replace(sign, word)
    plain = " ".join(re.sub(r"[^a-z0-9]+", " ", without_accents(text)).split())
    plain = _NUMBER_WORDS.sub("number", plain)
    return re.sub(r"\bnumber(?: number)+\b", "number", plain)


BY_HEADING: Final = {normal_heading(text): key for key, texts in HEADINGS.items() for text in texts}


def is_heading(text: str) -> bool:
    """Say whether the text is a heading that an inventory list would have."""
    return normal_heading(text) in BY_HEADING or text in {ROW_COLUMN, PROBLEM_COLUMN, MARK_COLUMN}


def own_columns(header: Sequence[str]) -> frozenset[int]:
    """Return where our own list of problem rows added its columns; somebody's own "Problem" column is not among them.

    They stand last and in a row; the mark may have been deleted.
    """
    added = {index for index, name in enumerate(header) if name == MARK_COLUMN}
    pairs = [index for index, pair in enumerate(pairwise(header)) if pair == (ROW_COLUMN, PROBLEM_COLUMN)]
    return frozenset(added.union(*({index, index + 1} for index in pairs[-1:])))
