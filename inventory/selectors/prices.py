"""Replacement costs."""

from __future__ import annotations

from decimal import Decimal

from core.money import cents
from inventory.catalog.schema import Kind
from inventory.models import Instrument


def replacement_amount(instrument: Instrument) -> Decimal:
    """What a new one costs: the instrument's own figure, else the middle of the catalog's for its kind and level.

    $0 where the catalog has lost the kind.
    """
    if instrument.replacement_amount is not None:
        return instrument.replacement_amount
    return new_amount(instrument.kind, level=instrument.level)


def new_amount(kind: Kind, *, level: str) -> Decimal:
    """What a new one of a kind costs by the catalog: the middle for its level, or for its first one; $0 where it has none."""
    low, high = kind.prices.get(level) or next(iter(kind.prices.values()), (Decimal(0), Decimal(0)))
    return cents((low + high) / 2)
