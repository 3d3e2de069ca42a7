"""How an instrument leaves the fleet, what each way asks, and who has to approve it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum


class Way(StrEnum):
    SOLD = "sold"
    TRADED_IN = "traded_in"
    GIVEN_AWAY = "given_away"
    SCRAPPED = "scrapped"
    RETIRED = "retired"  # to the district's surplus, or a display
    STOLEN = "stolen"
    LOST = "lost"
    ERROR = "error"  # it never was an instrument of its own: out of every count, also of past days


PAID = frozenset({Way.SOLD, Way.TRADED_IN})  # something was paid or credited for it
WRITTEN_OFF = frozenset({Way.STOLEN, Way.LOST})  # nobody handed it over: what was found out is written down
WORN_OUT = frozenset({Way.SCRAPPED, Way.RETIRED})  # its life ended

DISPOSE, TRANSFER = "inventory.dispose", "inventory.transfer_instrument"
APPROVE, APPROVE_LARGE = "inventory.approve_disposal", "inventory.approve_large_disposal"


def amount_at_stake(amounts: Iterable[Decimal | None]) -> Decimal:
    """Return the largest of what it was worth and what was paid for it: approval is by that."""
    return max((amount for amount in amounts if amount is not None), default=Decimal(0))


def approved_by_whom(amount: Decimal, *, large_above: Decimal) -> str:
    """Return the permission that whoever approves it must hold; a limit itself belongs to the smaller side."""
    return APPROVE_LARGE if amount > large_above else APPROVE
