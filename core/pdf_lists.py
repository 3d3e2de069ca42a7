"""A list on paper: any table of rows, across US Letter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string

from core.days import full_day
from core.pdf import render_pdf
from core.sheets import OutValue, Share

NARROWEST, WIDEST = 5, 36  # letters that a column is given room for, at least and at most
MANY, WIDEST_OF_MANY = 12, 18  # columns; where there are more, the type is smaller and none takes much room
ACROSS, ACROSS_OF_MANY = 140, 180  # letters that a page has room for


def list_pdf(
    *, title: str, header: Sequence[Any], rows: Iterable[Sequence[OutValue]], at: datetime, under: str = ""
) -> bytes:
    """Return the rows as a table with the heading again on each page; ``under`` says what they were narrowed to."""
    lines = [[_words(cell) for cell in row] for row in rows]
    names = [str(name) for name in header]
    context = {
        "title": title,
        "under": under,
        "columns": _columns(names, lines),
        "rows": lines,
        "at": at,
        "is_wide": len(names) > MANY,
    }
    html = render_to_string("core/papers/list.html", context)
    return render_pdf(html=html, stylesheets=[render_to_string("core/papers/list.css")], is_tagged=True)


def _words(cell: OutValue) -> str:
    if cell is None:
        return ""
    if isinstance(cell, date):
        return full_day(cell)
    if isinstance(cell, Share):
        return f"{cell * 100:.1f}%"
    return f"{cell:,.2f}" if isinstance(cell, Decimal) else str(cell)


def _columns(names: list[str], lines: list[list[str]]) -> list[tuple[str, str]]:
    """Return each heading with its width in percent, by how long nine in ten of its cells are.

    Where all that is too much for a page, no column gets narrower than the longest word of its heading. Left to find
    widths by itself, the renderer measures every word of the list several times.
    """
    shares: list[float] = []
    least, widest = [], WIDEST if len(names) <= MANY else WIDEST_OF_MANY
    for place, name in enumerate(names):
        lengths = sorted(len(line[place]) for line in lines)
        usual = lengths[len(lengths) * 9 // 10] if lengths else 0
        longest_word = max((len(word) for word in name.split()), default=0)
        shares.append(min(max(usual, longest_word, NARROWEST), widest) + 2)
        least.append(min(longest_word, widest) + 2)
    spare, asked = (ACROSS if len(names) <= MANY else ACROSS_OF_MANY) - sum(least), sum(shares) - sum(least)
    if 0 < spare < asked:
        shares = [low + (share - low) * spare / asked for low, share in zip(least, shares, strict=True)]
    return [(name, f"{100 * share / sum(shares):.2f}") for name, share in zip(names, shares, strict=True)]
