"""The kinds that somebody may have meant by a word nobody knows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import SequenceMatcher

LEAST = 0.6  # how alike two words are, by the share of letters in the same order
IN_COMMON = 0.3  # what a whole word in common counts for


def nearest_kinds(text: str, words: Mapping[str, str], *, most: int = 4) -> list[str]:
    """Return the names of the nearest kinds, the likeliest first. ``words`` is every word for a kind to its name."""
    typed = text.casefold().strip()
    parts = set(re.findall(r"[a-z]{3,}", typed))
    best: dict[str, float] = {}
    matcher, in_order = SequenceMatcher(b=typed), SequenceMatcher(b=_in_order(typed))
    for word, name in words.items():
        matcher.set_seq1(word)
        share = matcher.ratio() if matcher.real_quick_ratio() >= LEAST - IN_COMMON else 0.0
        if parts & set(re.findall(r"[a-z]{3,}", word)):
            in_order.set_seq1(_in_order(word))
            share = max(share, in_order.ratio()) + IN_COMMON
        best[name] = max(best.get(name, 0.0), share)
    likely = [name for name in sorted(best, key=lambda name: -best[name]) if best[name] >= LEAST]
    return likely[:most]


def _in_order(text: str) -> str:
    """Return the words in the order of the alphabet: "clarinet, bass" is like "bass clarinet"."""
    return " ".join(sorted(re.findall(r"[a-z]+", text)))
