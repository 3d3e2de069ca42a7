"""How much is believed of what lies on a bench. More is a slip of the finger. Common practice, no source.

Forms, services and the database hold the same figures. A count differs from the record by no more than MOST and
MOST_ON_RECORD together, so every move that they allow fits its column.
"""

from __future__ import annotations

from decimal import Decimal

from core.money import cents

LEAST = Decimal("0.001")  # of anything that comes in, is used or moved
MOST = Decimal(100_000)  # of one thing at once
MOST_USED = Decimal(999)  # of one thing at one step
MOST_ON_RECORD = Decimal(500_000)  # of one thing on a bench, more or less than nothing
LARGEST_MOVE = Decimal("999999.999")  # what the column of a move holds
MOST_EACH = Decimal("99999.99")  # dollars for one piece
MOST_PAID = Decimal("999999.99")  # dollars for one receipt


def is_quantity(quantity: Decimal, *, least: Decimal = LEAST) -> bool:
    return least <= quantity <= MOST


def price_each(*, paid: Decimal, quantity: Decimal) -> Decimal | None:
    """Return dollars and cents for one piece; None where no piece costs that much."""
    each = cents(paid / quantity)
    return each if each <= MOST_EACH else None
