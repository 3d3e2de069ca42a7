"""Wear or damage in words: what changed, with its photos, and how the most that may be charged came about."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.money import dollars
from desk.selectors.charging import Basis, Changed, Charge, Cost, Returned
from inventory.models import SEVERITY_LABELS, Photo
from loans.pages.comparing import CHANGE_WORDS
from loans.rules.charging import Ruling
from loans.selectors.comparing import finding_in_words

RULING_WORDS: dict[Ruling, Promise] = {
    Ruling.DAMAGE: _("Damage"),
    Ruling.OPEN: _("You decide"),
    Ruling.WEAR: _("Wear"),
}
TONES = {Ruling.DAMAGE: "v-silent", Ruling.OPEN: "v-limits", Ruling.WEAR: "quiet"}
BASIS_WORDS: dict[Basis, Promise] = {
    Basis.JOB: _("Repaired in job %(number)s"),
    Basis.INVOICE: _("Billed by a shop, order %(number)s"),
    Basis.ESTIMATE: _("A shop's estimate, order %(number)s"),
    Basis.PLAN: _("Estimate of the school's bench, time and parts"),
    Basis.TYPED: _("What the repair costs, as entered here"),
    Basis.PRICE: _("A new one"),
}
CHOSEN, PRICE = "for", "price_"  # names in the address and in the form


def change_rows(
    returned: Returned, *, chosen: Collection[str], photos: tuple[Mapping[str, Photo], Mapping[str, Photo]]
) -> list[dict[str, Any]]:
    """Return a row for each thing that is new or worse, damage first; the photos are of its part, then and now."""
    order = tuple(Ruling)
    before, after = photos
    rows = []
    for one in sorted(returned.changes, key=lambda change: order.index(change.ruling)):
        where, fault = finding_in_words(
            returned.loan.instrument.kind, part=one.row.part, place=one.row.place, fault=one.row.fault
        )
        rows.append(
            {
                "key": one.key,
                "where": where,
                "fault": fault,
                "before": SEVERITY_LABELS[one.row.before] if one.row.before else "",
                "after": SEVERITY_LABELS[one.row.after] if one.row.after else "",
                "change": one.row.change.value,
                "words": str(CHANGE_WORDS[one.row.change]),
                "tone": TONES[one.ruling],
                "ruled": str(RULING_WORDS[one.ruling]),
                "why": _why(one, months=returned.months),
                "photo_before": before.get(one.row.part),
                "photo_after": after.get(one.row.part),
                "is_offered": one.key in returned.offered,
                "is_chosen": one.key in chosen,
                "is_charged": one.is_charged,
            }
        )
    return rows


def _why(one: Changed, *, months: int) -> str:
    out = ngettext("%(count)d month out", "%(count)d months out", months) % {"count": months}
    if one.ruling is Ruling.DAMAGE:
        return gettext("It comes from a fall, a blow or force, not from playing.")
    if one.ruling is Ruling.WEAR:
        return gettext("It comes from playing; %(time)s explain it.") % {"time": out}
    if one.row.cause is None:
        return gettext("The catalog does not say what causes it.")
    return gettext("It may come from playing, but %(time)s do not explain all of it.") % {"time": out}


def sum_lines(charge: Charge) -> list[dict[str, Any]]:
    """Return the arithmetic of the cap: label, note and amount of each line; of a sum ``is_sum`` too.

    Without a price for everything there is no sum: the last line asks for it.
    """
    lines = [_cost_line(one) for one in charge.costs]
    if charge.unpriced:
        note = gettext("The plan has none. Enter what the repair costs, from a shop's offer or a bill.")
        return [*lines, {"label": gettext("No price yet"), "note": note, "amount": None}]
    if charge.as_lent_amount:
        note = gettext("What the same repair would have cost at hand-out.")
        lines.append({"label": gettext("Less"), "note": note, "amount": -charge.as_lent_amount})
    lines.append({"label": gettext("Cost of the repair"), "amount": charge.cap.cost, "is_sum": True})
    lines.append({"label": gettext("Value when it came back"), "note": _value_note(charge), "amount": charge.cap.value})
    if charge.cap.charged:
        lines.append({"label": gettext("Already charged for this loan"), "amount": -charge.cap.charged})
    why = gettext("by the value") if charge.cap.is_by_value else gettext("by the cost of the repair")
    lines.append({"label": gettext("At most"), "note": why, "amount": charge.cap.amount, "is_sum": True})
    return lines


def _value_note(charge: Charge) -> str:
    words = charge.value.words[:1].upper() + charge.value.words[1:]
    if not charge.facts.repair_amount:
        return f"{words}."
    less = gettext("less %(repair)s for repairs it needed anyway")
    return f"{words}; {less % {'repair': dollars(charge.facts.repair_amount)}}."


def _cost_line(one: Cost) -> dict[str, Any]:
    label = str(BASIS_WORDS[one.basis]) % {"number": one.number}
    note = ""
    if one.amount != one.whole:
        note = gettext("Of %(whole)s in all: the share of what is charged.") % {"whole": dollars(one.whole)}
    return {"label": label, "note": note, "amount": one.amount}


def chosen_query(chosen: Collection[str], prices: Mapping[str, Decimal]) -> str:
    """Return what leads to the same choice on another page."""
    pairs = [(CHOSEN, key) for key in chosen]
    return urlencode([*pairs, *((PRICE + key, str(price)) for key, price in prices.items())])
