"""Replacement costs."""

from __future__ import annotations

from decimal import Decimal

from core.money import cents
from inventory.models import Instrument


def replacement_amount(instrument: Instrument) -> Decimal:
    """What a new one costs: the instrument's own figure, else the middle of the catalog's for its kind and level.

    $0 where the catalog has lost the kind.
    """
    if instrument.replacement_amount is not None:
        return instrument.replacement_amount
    prices = instrument.kind.prices
    low, high = prices.get(instrument.level) or next(iter(prices.values()), (Decimal(0), Decimal(0)))
    return cents((low + high) / 2)
