"""What of a long season plan stands on screen at first: the paper has all of it, and each list can be shown whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

FIRST = 30  # lines of each list
GROUPED = ("benches", "ensembles")  # lists whose lines stand in groups
PLAIN = ("sent", "bought", "as_they_are")


def first_of(page: Mapping[str, Any], *, whole: str) -> dict[str, Any]:
    """Return the page with the first lines of each list but the one called ``whole``; ``beyond`` counts the others."""
    cut: dict[str, Any] = {}
    if page["is_long"]:
        cut |= {name: list(_first_groups(page[name])) for name in GROUPED if name != whole}
        cut |= {name: page[name][:FIRST] for name in PLAIN if name != whole}
    beyond = {name: _lines(page[name]) - _lines(lines) for name, lines in cut.items()}
    return {**page, **cut, "beyond": beyond}


def _first_groups(groups: Sequence[Mapping[str, Any]]) -> Iterator[dict[str, Any]]:
    left = FIRST
    for group in groups:
        if left <= 0:
            return
        yield {**group, "lines": group["lines"][:left]}
        left -= len(group["lines"])


def _lines(rows: Sequence[Mapping[str, Any]]) -> int:
    return sum(len(row["lines"]) if "lines" in row else 1 for row in rows)
