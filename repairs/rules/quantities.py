"""Quantities of parts and supplies in plain words: "40 tubes of slide grease", "a little key oil"."""

from __future__ import annotations

from decimal import Decimal

COUNTED = ("each", "")  # units of things that are counted by their own name
WHOLE = ("each", "pair", "")  # units of things that nobody uses a part of
MANY = 3  # of what is measured: from here on tenths mean nothing
A_LITTLE = Decimal("0.15")  # of a bottle or sheet; below it nobody measures
SHARES = (
    (Decimal("0.29"), "a quarter"),
    (Decimal("0.42"), "a third"),
    (Decimal("0.58"), "half"),
    (Decimal("0.71"), "two thirds"),
    (Decimal("0.9"), "three quarters"),
)


def many(word: str) -> str:
    """Return the plural of a thing, whatever follows after a comma: "pistons, matched", "tube or branches"."""
    head, comma, rest = word.partition(",")
    if head.endswith(("ch", "sh", "x", "ss")):
        head += "es"
    elif not head.endswith("s"):
        head += "s"
    return f"{head}{comma}{rest}"


def quantity_words(quantity: Decimal, *, unit: str, name: str = "") -> str:
    """Return so much of a thing, as one says it at a counter; without ``name`` only the quantity with its unit.

    >>> quantity_words(Decimal(40), unit="tube", name="slide grease")
    '40 tubes of slide grease'
    """
    amount = quantity.normalize()
    number = _figure(amount)
    one = abs(amount) == 1
    if unit in COUNTED:
        return f"{number} {name if one else many(name)}" if name else number
    first, _, rest = unit.partition(" ")  # "pack of 10"
    size = f" {rest}" if rest else ""
    word = first if one else many(first)
    if not name:
        return f"{number} {word}{size}"
    if unit == "set" and name.endswith(" set"):
        return f"{number} {name if one else many(name)}"
    return f"{number} {word}{size} {'' if size else 'of '}{name}"


def use_words(quantity: Decimal, *, unit: str, name: str = "") -> str:
    """Return what a step takes: shares of a bottle as one pours them, things that it takes only at times as such.

    Without ``name`` the thing has been named: "a little", "half a can".
    """
    if quantity >= 1 or quantity <= 0:
        return quantity_words(quantity, unit=unit, name=name)
    if unit in WHOLE:
        return f"{quantity_words(Decimal(1), unit=unit, name=name)}, not each time"
    if unit.startswith("pack"):
        return f"1 of the {name}" if name else "1 of a pack"
    of = f" of {name}" if name else ""
    if quantity < A_LITTLE:
        return f"a little {name}".strip()
    share = next((words for limit, words in SHARES if quantity < limit), "nearly all")
    return f"{share} a {unit}{of}" if share == "half" else f"{share} of a {unit}{of}"


def stock_words(quantity: Decimal, *, unit: str) -> str:
    """Return what is in stock: "40 tubes", "about 12 bottles", "2.5 sheets"."""
    if quantity == quantity.to_integral_value():
        return quantity_words(quantity, unit=unit)
    if abs(quantity) >= MANY:
        return f"about {quantity_words(quantity.to_integral_value(), unit=unit)}"
    return quantity_words(quantity.quantize(Decimal("0.1")), unit=unit)


def _figure(amount: Decimal) -> str:
    shown = f"{abs(amount):,.2f}".rstrip("0").rstrip(".")
    return f"−{shown}" if amount < 0 else shown
