"""Asking a shop, and calling off what was not sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import PROMISED
from core.events import already
from core.models import User
from core.traces import as_left
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import Finding, Instrument, Whereabouts
from inventory.services.checking import check_row
from inventory.services.state import lock_instrument, lock_instruments
from repairs.models import Job, Shop, ShopOrder
from repairs.selectors.decisions import in_force
from repairs.selectors.shops import limits_today
from repairs.services.orders.approving import check_paid_by
from repairs.services.orders.rows import change_order, fresh_order, log_order
from repairs.services.refusals import check_in_use
from repairs.traces import ORDER_COLUMNS


@service(once="nonce")
def ask_shop(
    *,
    shop: Shop,
    instrument: Instrument,
    question: str,
    nonce: UUID,
    actor: User,
    at: datetime,
    work: str = "",
    findings: Sequence[int] = (),
    **expected: Any,
) -> ShopOrder:
    """Write down what a shop is asked about an instrument; it stays where it is until it is sent.

    ``expected`` are expected_low_amount, expected_high_amount, promised_on, budget and purchase_order, as far as they
    are known, and is_estimate_only with trip_amount where it goes for an estimate without any work. Refuses a second
    open order on an instrument, findings that are not its own or do not stand, and an instrument that is neither in
    storage nor on the bench, or is given up.
    """
    if not question.strip():
        raise RefusedError(gettext("Say what the shop should do."))
    if work and work not in catalog().methods:
        raise RefusedError(gettext("The catalog has no kind of work called %(work)s.") % {"work": work})
    PROMISED.check(expected.get("promised_on"), today=timezone.localdate(at), label=gettext("Promised for"))
    fresh = lock_instrument(instrument)
    if fresh.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        names = {"number": fresh.asset_number, "where": fresh.get_whereabouts_display().lower()}
        raise RefusedError(gettext("%(number)s is %(where)s, so it cannot be sent.") % names)
    check_in_use(fresh)
    standing = set(Finding.objects.filter(instrument=fresh, pk__in=findings).standing().values_list("pk", flat=True))
    if standing != set(findings):
        raise RefusedError(gettext("One of the findings has been fixed in the meantime. Check what to ask for."))
    job, decision = Job.objects.open().filter(instrument=fresh).first(), in_force(fresh)
    if decision is not None and decision.holds and decision.spends:
        expected["decision"] = decision
    if expected.get("is_estimate_only"):
        if expected.get("trip_amount") is None:
            expected["trip_amount"] = limits_today().trip
    else:
        expected["trip_amount"] = None
    expected["first_promised_on"] = expected.get("promised_on")
    order = ShopOrder(
        shop=shop, instrument=fresh, job=job, nonce=nonce, work=work, question=question.strip(),
        findings=sorted(standing), asked_at=at, asked_by=actor, **expected,
    )  # fmt: skip
    if there := ShopOrder.objects.open().filter(instrument=fresh).first():
        words = gettext("%(number)s already has an open shop order.") % {"number": fresh.asset_number}
        raise RefusedError(already(words, subject=there, acts=["shop_asked"]))
    check_paid_by(order=order, budget=order.budget)
    check_row(order)
    order.save(force_insert=True)
    after = {"shop": shop.pk, "work": work, "findings": order.findings, "promised_on": order.promised_on}
    log_order(order=order, act="shop_asked", after=after | as_left(order, *ORDER_COLUMNS))
    return order


@service(once="nonce")
def ask_together(
    *,
    shop: Shop,
    instrument: Instrument,
    others: Sequence[tuple[Instrument, Mapping[str, Any]]],
    nonce: UUID,
    actor: User,
    at: datetime,
    promised_on: date | None = None,
    **fields: Any,
) -> ShopOrder:
    """Ask one shop about several instruments: an order for each, and all share what they were asked with.

    ``others`` come with what each is asked for, as ask_shop takes it. All or none; returns the first one's order.
    """
    lock_instruments(instrument, *(row for row, _ in others))
    shared: dict[str, Any] = {"shop": shop, "promised_on": promised_on, "actor": actor, "at": at}
    shared["together"] = nonce if others else None
    first = ask_shop(instrument=instrument, nonce=nonce, **shared, **fields)
    for row, its in others:
        ask_shop(instrument=row, nonce=uuid5(nonce, str(row.pk)), **shared, **its)
    return first


@service
def call_off(*, order: ShopOrder, because: str, actor: User, at: datetime) -> ShopOrder:
    """Cancel an order that was not sent."""
    fresh = fresh_order(order)
    if fresh.sent_at is not None:
        raise RefusedError(gettext("It has already been sent, so the order cannot be canceled."))
    if not because.strip():
        raise RefusedError(gettext("Enter a reason."))
    change_order(order=fresh, act="order_called_off", called_off_at=at, called_off_because=because.strip()[:200])
    return fresh
