"""Sending an order off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import PROMISED
from core.events import already
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Custody, Whereabouts
from repairs.models import Job, ShopOrder
from repairs.services.orders.approving import check_money
from repairs.services.orders.rows import (
    carry,
    change_order,
    day_words,
    fresh_order,
    here_since,
    lock_orders,
    moment_on,
    promise_columns,
    span_of,
)
from repairs.services.refusals import check_allowed


@service
def send_to_shop(
    *, order: ShopOrder, actor: User, at: datetime, promised_on: date | None = None, on: date | None = None
) -> ShopOrder:
    """Send it off: it is at the shop from now on, and its job stays open. ``on`` is the day it left, today if not said.

    Refuses what was sent before, and work that a decision about it did not allow. Raises ApprovalNeededError above the
    limit without an approval.
    """
    fresh = fresh_order(order)
    if fresh.sent_at is not None:
        raise RefusedError(already(gettext("It has already been sent."), subject=fresh, acts=["sent_to_shop"]))
    here = here_since(fresh.instrument)
    moment = moment_on(on=on, at=at, **_bounds(fresh, here))
    if promised_on is not None and promised_on < timezone.localdate(moment):
        raise RefusedError(gettext("The promised day is before the day it is sent."))
    PROMISED.check(promised_on, today=timezone.localdate(moment), label=gettext("Promised for"))
    as_it_stands = check_money(order=fresh)
    if not fresh.is_estimate_only and fresh.warranty_of_id is None:
        check_allowed(fresh.instrument, approved_at=fresh.work_approved_at)
    job = Job.objects.open().filter(instrument=fresh.instrument).first()
    after = {"shop": fresh.shop_id, "promised_on": promised_on or fresh.promised_on, "on": timezone.localdate(moment)}
    after |= as_it_stands
    promise = promise_columns(order=fresh, on=promised_on)
    change_order(order=fresh, act="sent_to_shop", after=after, sent_at=moment, job=job, **promise)
    expected = Whereabouts.ON_BENCH if job else Whereabouts.IN_STORE
    carry(order=fresh, here=here, expected=expected, to=Whereabouts.AT_SHOP, actor=actor, at=moment)
    return fresh


@service
def send_together(*, orders: Sequence[ShopOrder], actor: User, at: datetime, **fields: Any) -> ShopOrder:
    """Send several off, all or none; a refusal says which one cannot go."""
    lock_orders(*orders)
    sent = []
    for order in orders:
        try:
            sent.append(send_to_shop(order=order, actor=actor, at=at, **fields))
        except RefusedError as error:
            raise type(error)(f"{order.instrument.asset_number}: {error}") from None
    return sent[0]


def _bounds(order: ShopOrder, here: Custody) -> dict[str, Any]:
    """It is sent no earlier than asked, and no earlier than it came to where it is, unless that was taken back."""
    since, words = order.asked_at, gettext("The shop was asked on %(day)s; it cannot have been sent before.")
    if here.since > since and here.reference != span_of(order):
        since, words = here.since, gettext("It is where it is since %(day)s; it cannot have been sent before.")
    return {"earliest": since, "too_early": words % {"day": day_words(since)}}


@service
def change_promise(*, order: ShopOrder, promised_on: date, actor: User, at: datetime) -> ShopOrder:
    """Keep the day that the shop promises now; the first promise stays, and lateness is counted from it."""
    fresh = fresh_order(order)
    if fresh.sent_at is None:
        raise RefusedError(gettext("It is not at the shop."))
    if fresh.returned_at is not None:
        raise RefusedError(already(gettext("It is already back."), subject=fresh, acts=["back_from_shop"]))
    PROMISED.check(promised_on, today=timezone.localdate(at), label=gettext("Promised for"))
    if promised_on != fresh.promised_on:
        after = {"promised_on": promised_on}
        change_order(order=fresh, act="promise_changed", after=after, **promise_columns(order=fresh, on=promised_on))
    return fresh
