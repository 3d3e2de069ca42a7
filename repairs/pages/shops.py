"""Outside shops in words: where their orders stand, and how shops compare."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.utils.translation import gettext, ngettext

from inventory.catalog.load import catalog
from repairs.models import Shop, ShopOrder
from repairs.rules.shops import ShopRecord, Wait
from repairs.selectors.shops import records, wait_of


def work_name(code: str) -> str:
    method = catalog().methods.get(code)
    return method.name if method else gettext("Other work")


def step_words(order: ShopOrder, *, today: date) -> str:
    """Say where an order stands."""
    if order.called_off_at:
        return gettext("Canceled")
    wait = wait_of(order)
    if order.returned_at:
        return _billed_words(order, wait)
    if order.is_late(today=today) and order.first_promised_on:
        days = (today - order.first_promised_on).days
        return ngettext("%(days)d day late", "%(days)d days late", days) % {"days": days}
    if order.refused_at:
        return gettext("Not approved")
    if wait:
        return gettext("Waiting for an estimate") if wait is Wait.ESTIMATE_FIRST else gettext("Waiting for approval")
    if order.sent_at and order.is_estimate_only:
        is_known = order.estimate_amount is not None
        return gettext("Estimate in, work not ordered") if is_known else gettext("At the shop for an estimate")
    return gettext("At the shop") if order.sent_at else gettext("Ready to send")


def _billed_words(order: ShopOrder, wait: Wait | None) -> str:
    if order.invoice_amount is None:
        return gettext("Back, bill to come") if order.is_bill_to_come else gettext("Back, under warranty")
    if order.refused_at:
        return gettext("Bill disputed")
    return gettext("Bill waiting for approval") if wait else gettext("Back and billed")


def line_of(order: ShopOrder, *, today: date) -> dict[str, Any]:
    """Return an order with where it stands, whether it is late, and whether it waits for an approval."""
    return {
        "order": order, "step": step_words(order, today=today), "is_late": order.is_late(today=today),
        "is_waiting": wait_of(order) is not None or order.refused_at is not None,
    }  # fmt: skip


def lines_of(orders: Iterable[ShopOrder], *, today: date) -> list[dict[str, Any]]:
    return [line_of(order, today=today) for order in orders]


def record_lines(shop: Shop | None = None) -> list[tuple[ShopRecord, str]]:
    """Return cost and turnaround per shop and kind of work, which is named. One query."""
    return [(record, work_name(record.work)) for record in records(shop)]
