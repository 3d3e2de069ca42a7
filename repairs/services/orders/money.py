"""What an order costs: the estimate and the bill."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import PROMISED, RECORDED
from core.models import User
from inventory.exceptions import RefusedError
from repairs.models import ShopOrder
from repairs.services.orders.approving import check_paid_by
from repairs.services.orders.rows import change_order, fresh_order, promise_columns

# The reason stays with the order: the act that takes its place may be taken back.
NOT_REFUSED: dict[str, Any] = {"refused_at": None, "refused_by": None}


@service
def note_estimate(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, promised_on: date | None = None
) -> ShopOrder:
    """Keep what the shop says it will cost. Above the limit, and above what was approved, it asks for an approval.

    A new one may be approved where an earlier one was refused.
    """
    fresh = fresh_order(order)
    if fresh.returned_at is not None:
        raise RefusedError(gettext("It is already back. Enter the bill instead."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    RECORDED.check(on, today=timezone.localdate(at), label=gettext("Date of the estimate"))
    PROMISED.check(promised_on, today=timezone.localdate(at), label=gettext("Promised for"))
    promise = promise_columns(order=fresh, on=promised_on)
    after = {"estimate": amount, "before": fresh.estimate_amount, "on": on, "promised_on": promised_on}
    change_order(
        order=fresh, act="estimate_given", after=after, estimate_amount=amount, estimate_on=on, **promise, **NOT_REFUSED
    )
    return fresh


@service
def note_invoice(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, number: str = "", **paid_by: Any
) -> ShopOrder:
    """Keep the bill. One above what was allowed is kept all the same and waits for an approval.

    ``paid_by`` are budget and purchase_order, where they are stated again. A corrected bill takes the place of a refused
    one.
    """
    fresh = fresh_order(order)
    if fresh.returned_at is None:
        raise RefusedError(gettext("Enter the bill once the instrument is back."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    RECORDED.check(on, today=timezone.localdate(at), label=gettext("Date of the bill"))
    check_paid_by(order=fresh, **paid_by)
    bill = {"invoice_amount": amount, "invoice_number": number.strip(), "invoice_on": on}
    after = {"amount": amount, "before": fresh.invoice_amount, "on": on}
    change_order(order=fresh, act="invoice_noted", after=after, **bill, **paid_by, **NOT_REFUSED)
    return fresh
