"""Exceptions as lines of a page and rows of a file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.money import dollars
from core.sheets import OutValue
from desk.selectors.exceptions import RULES
from inventory.models import Instrument
from loans.models import Loan
from repairs.models import ShopOrder

HEADER = (_("Exception"), _("Asset number"), _("Kind"), _("School"), _("Details"), _("Date"))


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a rule: what it is about, where it leads, and the figures that make it an exception."""

    instrument: Instrument
    url: str
    words: str
    on: date | None


def line_of(rule: str, row: Any, *, reasons: Mapping[int, str], limit: Any) -> Line:
    """``reasons`` say of instruments why they should not be out; ``limit`` is the amount above which one approves."""
    if isinstance(row, Loan):
        day = row.due_on if rule == "overdue" else row.lent_on
        words = gettext("Due %(day)s") if rule == "overdue" else gettext("Out since %(day)s")
        return Line(row.instrument, reverse("loans:loan", args=[row.pk]), words % {"day": full_day(day)}, day)
    if isinstance(row, ShopOrder):
        words, on = order_words(rule, row, limit=limit)
        return Line(row.instrument, reverse("repairs:order", args=[row.pk]), words, on)
    url = reverse("desk:instrument", args=[row.asset_number])
    return Line(row, url, reasons.get(row.pk, ""), None)


def order_words(rule: str, order: ShopOrder, *, limit: Any) -> tuple[str, date | None]:
    if rule == "no-job":
        data = {"amount": dollars(order.invoice_amount), "number": order.invoice_number or gettext("without a number")}
        return gettext("Bill %(number)s, %(amount)s") % data, order.invoice_on
    data = {
        "amount": dollars(order.known_amount), "limit": dollars(limit), "approved": dollars(order.approved_amount or 0),
    }  # fmt: skip
    words = gettext("Bill %(amount)s, approved %(approved)s, limit %(limit)s")
    if order.invoice_amount is None:
        words = gettext("Estimate %(amount)s, approved %(approved)s, limit %(limit)s")
    return words % data, order.invoice_on or order.estimate_on


def rule_lines(counts: Mapping[str, int]) -> list[dict[str, Any]]:
    """A line for each rule with its count, which leads to its rows."""
    return [
        {
            "title": str(rule.title),
            "because": str(rule.because),
            "count": counts[code],
            "url": reverse("desk:exception", args=[code]),
        }
        for code, rule in RULES.items()
    ]


def exception_rows(some: Iterable[tuple[str, Line]]) -> Iterator[tuple[OutValue, ...]]:
    for rule, line in some:
        horn = line.instrument
        yield str(RULES[rule].title), horn.asset_number, horn.kind.name, str(horn.school), line.words, line.on
