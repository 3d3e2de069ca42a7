"""Quantities and minutes in templates, in plain words."""

from __future__ import annotations

from decimal import Decimal

from django import template

from repairs.rules.quantities import quantity_words, stock_words, use_words
from repairs.rules.words import duration

register = template.Library()


@register.simple_tag
def so_many(quantity: Decimal | int, unit: str, name: str = "") -> str:
    """Return "40 tubes of slide grease", or "40 tubes" without a name."""
    return quantity_words(Decimal(quantity), unit=unit, name=name)


@register.simple_tag
def in_stock(quantity: Decimal, unit: str) -> str:
    """Return what lies there: "about 12 bottles"."""
    return stock_words(quantity, unit=unit)


@register.simple_tag
def so_much(quantity: Decimal, unit: str, name: str = "") -> str:
    """Return what a step takes: "a little key oil"."""
    return use_words(quantity, unit=unit, name=name)


@register.filter
def as_time(minutes: float) -> str:
    """Return "1 h 20 min"."""
    return duration(minutes)
