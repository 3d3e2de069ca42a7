"""Dollars and cents, exactly."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import floor

CENT = Decimal("0.01")


def cents(amount: Decimal | Fraction | float | str) -> Decimal:
    """Round half up to the cent, as an invoice does."""
    if isinstance(amount, Fraction):
        whole = floor(abs(amount) * 100 + Fraction(1, 2))
        return Decimal(whole if amount >= 0 else -whole).scaleb(-2)
    return Decimal(str(amount)).quantize(CENT, rounding=ROUND_HALF_UP)


def percent(share: Decimal) -> str:
    """Format a share exactly: 5%, 2.5%."""
    return f"{(share * 100).normalize():f}%"


def dollars(amount: Decimal | float | str | None, *, none: str = "—") -> str:
    """Format an amount: $1,234.50, $9, −$3.20, or ``none`` for None."""
    if amount is None:
        return none
    value = cents(amount)
    sign = "−" if value < 0 else ""
    value = abs(value)
    return f"{sign}${value:,.0f}" if value == value.to_integral() else f"{sign}${value:,.2f}"
