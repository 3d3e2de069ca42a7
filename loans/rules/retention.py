"""How long a signed paper is kept. The number of years is the district's own; we know of no source for it."""

from __future__ import annotations

from datetime import date


def keep_until(*, returned_on: date, years: int) -> date:
    """The first day on which the paper may go; a loan that ended on February 29 counts to March 1."""
    try:
        return returned_on.replace(year=returned_on.year + years)
    except ValueError:
        return date(returned_on.year + years, 3, 1)
