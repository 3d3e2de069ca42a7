"""Sending an order off."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Whereabouts
from inventory.services.checking import save_columns
from repairs.models import Job, ShopOrder
from repairs.services.orders.money import check_money
from repairs.services.orders.rows import carry, fresh_order, log_order, promise_columns


@service
def send_to_shop(*, order: ShopOrder, actor: User, at: datetime, promised_on: date | None = None) -> ShopOrder:
    """Send it off: it is at the shop from now on, and its job stays open.

    Refuses what was sent before, and raises ApprovalNeededError above the limit without an approval.
    """
    fresh = fresh_order(order)
    if fresh.sent_at is not None:
        raise RefusedError(gettext("It has already been sent."))
    if promised_on is not None and promised_on < timezone.localdate(at):
        raise RefusedError(gettext("The promised day is in the past."))
    check_money(fresh)
    job = Job.objects.open().filter(instrument=fresh.instrument).first()
    save_columns(fresh, sent_at=at, job=job, **promise_columns(order=fresh, on=promised_on))
    carry(
        order=fresh,
        expected=Whereabouts.ON_BENCH if job else Whereabouts.IN_STORE,
        to=Whereabouts.AT_SHOP,
        actor=actor,
        at=at,
    )
    log_order(order=fresh, act="sent_to_shop", shop=fresh.shop_id, promised_on=fresh.promised_on)
    return fresh
