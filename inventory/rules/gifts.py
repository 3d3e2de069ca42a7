"""What a signed gift form asks of the one who received the gift."""

from __future__ import annotations

from datetime import date

from core.days import add_months

YEARS_WATCHED = 3


def watched_until(*, received_on: date, signed_on: date | None) -> date | None:
    """The last day on which giving the instrument away must be reported, or None where no form was signed.

    Source: the instructions to US Form 8282: a charity that signed the donor's Form 8283 reports a sale, exchange or
    other disposal within three years of the day it received the property. Not tax advice.
    """
    return None if signed_on is None else add_months(received_on, 12 * YEARS_WATCHED)
