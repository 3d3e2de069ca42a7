"""Dollars and shares as people write them."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from core.cells import Cell
from core.money import CENT
from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.rules.intake.parse.reading import (
    Reading,
    UnreadableError,
    cell_text,
    is_nothing,
    reads_cells,
    without_doubt,
)

MOST_AMOUNT: Final = Decimal(10_000_000)  # dollars; more is a slip of the keyboard
FREE: Final = frozenset(["free", "gift", "donated", "donation", "gifted", "no cost", "no charge", "given"])

_CURRENCY = re.compile(r"(us\s*\$|\$|\busd\b|\bus dollars\b|\bdollars?\b)")
_TRAIL = re.compile(r"\s*(each|ea\.?|/ea\.?)$|(?<=\d)[.,]\s*[-–—]+$")  # "512.-"
_PARENTHESES = re.compile(r"\((.+)\)")
# Groups of three with one sign between them, and cents after the other sign; or no groups at all.
_US = re.compile(r"\d{1,3}(?:[, '’]\d{3})+(?:\.\d{1,2})?|\d+\.?|\d*\.\d{1,2}")
_EUROPEAN = re.compile(r"\d{1,3}(?:[. '’]\d{3})+,\d{1,2}|\d+,\d{1,2}|\d{1,3}(?:\.\d{3}){2,}")
_EXACT = re.compile(r"\d{4,}\.\d{3,}|\d+\.\d{4,}|0\.\d{3}")


def says_free(cell: Cell) -> bool:
    """Say whether the cell has a word for no cost, such as "donated"."""
    return isinstance(cell, str) and cell_text(cell).casefold() in FREE


@reads_cells(None, no_date=gettext_noop("is a date, not an amount"))
def parse_money(text: str) -> Reading[Decimal | None]:
    """Read an amount in dollars, rounded to the cent; parentheses or a minus make it negative.

    "Free" and the like give zero. "1.234" is refused: it may be a thousand or one.
    """
    plain = text.casefold()
    if plain in FREE:
        return Reading(Decimal("0.00"), _("“%(text)s” is kept as no cost", text=text))
    plain, doubt = without_doubt(plain)
    plain = _CURRENCY.sub("", plain).strip()
    if is_nothing(plain):
        return Reading(None)
    plain = _TRAIL.sub("", plain).strip()
    is_negative = plain.startswith("-") or plain.endswith("-")
    plain = plain.strip("- ")
    if found := _PARENTHESES.fullmatch(plain):
        is_negative, plain = True, found[1].strip()
    amount, note = _amount(plain)
    if amount > MOST_AMOUNT:
        raise UnreadableError(_("is more than ten million dollars"))
    return Reading(-amount if is_negative else amount, "; ".join(filter(None, (note, doubt))))


def _amount(plain: str) -> tuple[Decimal, str]:
    if _US.fullmatch(plain):
        return Decimal(re.sub(r"[, '’]", "", plain)).quantize(CENT), ""
    if _EUROPEAN.fullmatch(plain):
        amount = Decimal(re.sub(r"[. '’]", "", plain).replace(",", ".")).quantize(CENT)
        return amount, _("read with a decimal comma: %(amount)s", amount=amount)
    if _EXACT.fullmatch(plain):
        amount = Decimal(plain).quantize(CENT, ROUND_HALF_UP)
        return amount, _("rounded to %(amount)s", amount=amount)
    if re.fullmatch(r"\d{1,3}\.\d{3}", plain):
        readings = {"thousands": plain.replace(".", ","), "cents": Decimal(plain).quantize(CENT)}
        raise UnreadableError(_("may be %(thousands)s dollars or %(cents)s; write which", **readings))
    raise UnreadableError(_("is not an amount of dollars"))


@reads_cells(None, no_date=gettext_noop("is a date, not a percentage"))
def parse_share(text: str) -> Reading[Decimal | None]:
    """Read a share in percent, 0 to 100; a bare number up to 1 is taken for a fraction."""
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(%|percent|pct)?", text.casefold())
    if not found:
        raise UnreadableError(_("is not a percentage"))
    share, note = Decimal(found[1].replace(",", ".")), ""
    if not found[2] and 0 < share <= 1:
        share *= 100
        note = _("%(text)s is read as %(share)s percent", text=text, share=f"{share.normalize():f}")
    if share > 100:  # percent
        raise UnreadableError(_("is more than 100 percent"))
    return Reading(share.quantize(CENT), note)
