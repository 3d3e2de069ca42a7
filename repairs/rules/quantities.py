"""Quantities of parts and supplies in plain words: "40 tubes of slide grease", "a little key oil"."""

from __future__ import annotations

from decimal import Decimal

from core.translation import gettext as _
from core.translation import gettext_noop

COUNTED = ("each", "")  # units of things that are counted by their own name
WHOLE = (gettext_noop("each"), gettext_noop("pair"), "")  # units of things that nobody uses a part of
PACK = gettext_noop("pack")
MANY = 3  # of what is measured: from here on tenths mean nothing
A_LITTLE = Decimal("0.15")  # of a bottle or sheet; below it nobody measures
SHARES = (
    (Decimal("0.29"), gettext_noop("a quarter of a %(unit)s")),
    (Decimal("0.42"), gettext_noop("a third of a %(unit)s")),
    (Decimal("0.58"), gettext_noop("half a %(unit)s")),
    (Decimal("0.71"), gettext_noop("two thirds of a %(unit)s")),
    (Decimal("0.9"), gettext_noop("three quarters of a %(unit)s")),
    (Decimal(1), gettext_noop("nearly all of a %(unit)s")),
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
    first, _space, rest = unit.partition(" ")  # "pack of 10"
    size = f" {rest}" if rest else ""
    word = first if one else many(first)
    if not name:
        return f"{number} {word}{size}"
    if unit == "set" and name.endswith(" set"):
        return f"{number} {name if one else many(name)}"
    if size:
        return f"{number} {word}{size} {name}"
    return _("%(quantity)s of %(thing)s", quantity=f"{number} {word}", thing=name)


def use_words(quantity: Decimal, *, unit: str, name: str = "") -> str:
    """Return what a step takes: shares of a bottle as one pours them, things that it takes only at times as such.

    Without ``name`` the thing has been named: "a little", "half a can".
    """
    if quantity >= 1 or quantity <= 0:
        return quantity_words(quantity, unit=unit, name=name)
    if unit in WHOLE or unit in [_(one) for one in WHOLE if one]:
        return _("%(quantity)s, not each time", quantity=quantity_words(Decimal(1), unit=unit, name=name))
    if unit.startswith((PACK, _(PACK))):
        return _("1 of the %(thing)s", thing=name) if name else _("1 of a pack")
    if quantity < A_LITTLE:
        return _("a little %(thing)s", thing=name) if name else _("a little")
    share = _(next(words for limit, words in SHARES if quantity < limit), unit=unit)
    return _("%(quantity)s of %(thing)s", quantity=share, thing=name) if name else share


def stock_words(quantity: Decimal, *, unit: str) -> str:
    """Return what is in stock: "40 tubes", "about 12 bottles", "2.5 sheets"."""
    if quantity == quantity.to_integral_value():
        return quantity_words(quantity, unit=unit)
    if abs(quantity) >= MANY:
        return _("about %(quantity)s", quantity=quantity_words(quantity.to_integral_value(), unit=unit))
    return quantity_words(quantity.quantize(Decimal("0.1")), unit=unit)


def _figure(amount: Decimal) -> str:
    shown = f"{abs(amount):,.2f}".rstrip("0").rstrip(".")
    if shown == "0":
        shown = f"{abs(amount):f}"  # so little that hundredths do not show it
    return f"−{shown}" if amount < 0 else shown
