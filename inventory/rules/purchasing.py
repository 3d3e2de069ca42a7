"""What open purchase requests ask for already."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TypeVar

Key = TypeVar("Key")


def already_requested(wanted: Iterable[tuple[Key, int]], *, requested: Counter[Key]) -> list[int]:
    """Return how many of each (key, count) wanted are requested already; what is requested serves one of them only."""
    left = requested.copy()
    found = []
    for key, count in wanted:
        found.append(min(left[key], count))
        left[key] -= found[-1]
    return found
