"""Replacement costs."""

from __future__ import annotations

from decimal import Decimal

from inventory.models import Instrument
from inventory.rules.value import middle_price


def replacement_amount(instrument: Instrument) -> Decimal:
    """What a new one costs: the instrument's own figure, else the middle of the catalog's for its kind and level.

    $0 where the catalog has lost the kind.
    """
    if instrument.replacement_amount is not None:
        return instrument.replacement_amount
    return middle_price(instrument.kind.prices, instrument.level)
