"""Outside shops in words: where their orders stand, and how shops compare."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, ngettext

from inventory.catalog.load import catalog
from repairs.models import Shop, ShopOrder
from repairs.rules.shops import ShopRecord
from repairs.selectors.shops import (
    is_waiting,
    records,
)


def work_name(code: str) -> str:
    method = catalog().methods.get(code)
    return method.name if method else gettext("Other work")


def step_words(order: ShopOrder, *, today: date, limit: Decimal) -> str:
    """Say where an order stands."""
    if order.called_off_at:
        return gettext("Canceled")
    if order.returned_at:
        return gettext("Back, bill to come") if order.invoice_amount is None else gettext("Back and billed")
    if order.is_late(today=today) and order.first_promised_on:
        days = (today - order.first_promised_on).days
        return ngettext("%(days)d day late", "%(days)d days late", days) % {"days": days}
    if is_waiting(order, limit=limit):
        return gettext("Waiting for approval")
    return gettext("At the shop") if order.sent_at else gettext("Ready to send")


def line_of(order: ShopOrder, *, today: date, limit: Decimal) -> dict[str, Any]:
    """Return an order with where it stands, whether it is late, and whether it waits for an approval."""
    return {
        "order": order, "step": step_words(order, today=today, limit=limit), "is_late": order.is_late(today=today),
        "is_waiting": is_waiting(order, limit=limit),
    }  # fmt: skip


def lines_of(orders: Iterable[ShopOrder], *, today: date, limit: Decimal) -> list[dict[str, Any]]:
    return [line_of(order, today=today, limit=limit) for order in orders]


def record_lines(shop: Shop | None = None) -> list[tuple[ShopRecord, str]]:
    """Return cost and turnaround per shop and kind of work, which is named. One query."""
    return [(record, work_name(record.work)) for record in records(shop)]
