"""Outside shops: asking, sending, what came back and what it cost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.money import dollars
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Instrument, PlayTest, Whereabouts
from inventory.services.checking import check_row, save_columns
from inventory.services.event_log import log_event
from inventory.services.inspecting import close_findings
from inventory.services.state import lock_instrument, move_instrument
from repairs.exceptions import ApprovalNeededError
from repairs.models import Job, Shop, ShopOrder
from repairs.rules.shops import needs_approval
from repairs.selectors.shops import approval_limit


@service
def add_shop(*, actor: User, at: datetime, **texts: Any) -> Shop:
    """Put a shop on the district's list: its name, and perhaps contact, address and note."""
    shop = Shop(**{name: text.strip() for name, text in texts.items()})
    _check_name(shop)
    check_row(shop)
    shop.save(force_insert=True)
    record_event(act="shop_added", subject=shop)
    return shop


@service
def change_shop(*, shop: Shop, is_used: bool, actor: User, at: datetime, **texts: Any) -> Shop:
    """Correct a shop; one that is not used any more is not offered, and keeps its orders."""
    fresh = lock_row(shop)
    _check_name(Shop(pk=shop.pk, name=texts["name"].strip()))
    save_columns(fresh, is_used=is_used, **{name: text.strip() for name, text in texts.items()})
    record_event(act="shop_changed", subject=fresh, after={"is_used": is_used})
    return fresh


def _check_name(shop: Shop) -> None:
    if Shop.objects.filter(name__iexact=shop.name).exclude(pk=shop.pk).exists():
        raise RefusedError(gettext("%(shop)s is already on the list.") % {"shop": shop.name})


def _log(order: ShopOrder, act: str, **after: Any) -> None:
    log_event(instrument=order.instrument, act=act, subject=order, after=after)


def _fresh(order: ShopOrder) -> ShopOrder:
    """The order as it is now, its instrument locked; refuses one that was canceled."""
    instrument = lock_instrument(order.instrument_id)
    fresh = lock_row(order, "shop", "job")
    fresh.instrument = instrument
    if fresh.called_off_at is not None:
        raise RefusedError(gettext("This order was canceled. Nothing was changed."))
    return fresh


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

    ``expected`` are expected_low_amount, expected_high_amount and promised_on, as far as they are known. Refuses a
    second open order on an instrument, findings that are not its own or do not stand, and an instrument that is neither
    in storage nor on the bench.
    """
    if not question.strip():
        raise RefusedError(gettext("Say what the shop should do."))
    if work and work not in catalog().methods:
        raise RefusedError(gettext("The catalog has no kind of work called %(work)s.") % {"work": work})
    fresh = lock_instrument(instrument)
    if fresh.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        names = {"number": fresh.asset_number, "where": fresh.get_whereabouts_display().lower()}
        raise RefusedError(gettext("%(number)s is %(where)s, so it cannot be sent.") % names)
    standing = set(Finding.objects.filter(instrument=fresh, pk__in=findings).standing().values_list("pk", flat=True))
    if standing != set(findings):
        raise RefusedError(gettext("One of the findings has been fixed in the meantime. Check what to ask for."))
    job = Job.objects.open().filter(instrument=fresh).first()
    expected["first_promised_on"] = expected.get("promised_on")
    order = ShopOrder(
        shop=shop, instrument=fresh, job=job, nonce=nonce, work=work, question=question.strip(),
        findings=sorted(standing), asked_at=at, asked_by=actor, **expected,
    )  # fmt: skip
    if ShopOrder.objects.open().filter(instrument=fresh).exists():
        raise RefusedError(gettext("%(number)s already has an open shop order.") % {"number": fresh.asset_number})
    check_row(order)
    order.save(force_insert=True)
    _log(order, "shop_asked", shop=shop.pk, work=work, findings=order.findings)
    return order


@service
def note_estimate(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, promised_on: date | None = None
) -> ShopOrder:
    """Keep what the shop says it will cost. Above the limit, and above what was approved, it asks for an approval."""
    fresh = _fresh(order)
    if fresh.returned_at is not None:
        raise RefusedError(gettext("It is already back. Enter the bill instead."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    before = fresh.estimate_amount
    save_columns(fresh, estimate_amount=amount, estimate_on=on, **_promise(fresh, promised_on))
    _log(fresh, "estimate_given", estimate=amount, before=before)
    return fresh


@service
def approve_order(*, order: ShopOrder, amount: Decimal, actor: User, at: datetime) -> ShopOrder:
    """Allow an order to cost so much. Only who may approve costs; it is kept with name and amount."""
    if not has_perm_at_school(actor, "repairs.approve_cost", order.instrument.school_id):
        raise ApprovalNeededError(gettext("Only a director or an administrator can approve costs."))
    fresh = _fresh(order)
    if amount <= 0:
        raise RefusedError(gettext("Enter the amount you approve."))
    if fresh.known_amount is not None and amount < fresh.known_amount:
        words = gettext("It will cost %(amount)s. Approve that much, or cancel the order.")
        raise RefusedError(words % {"amount": dollars(fresh.known_amount)})
    save_columns(fresh, approved_amount=amount, approved_at=at, approved_by=actor)
    _log(fresh, "cost_approved", amount=amount)
    return fresh


@service
def send_to_shop(*, order: ShopOrder, actor: User, at: datetime, promised_on: date | None = None) -> ShopOrder:
    """Send it off: it is at the shop from now on, and its job stays open.

    Refuses what was sent before, and raises ApprovalNeededError above the limit without an approval.
    """
    fresh = _fresh(order)
    if fresh.sent_at is not None:
        raise RefusedError(gettext("It has already been sent."))
    if promised_on is not None and promised_on < timezone.localdate(at):
        raise RefusedError(gettext("The promised day is in the past."))
    amount = fresh.known_amount
    if needs_approval(amount=amount, limit=approval_limit(), approved=fresh.approved_amount):
        words = gettext("%(amount)s is above %(limit)s. A director or an administrator must approve it first.")
        raise ApprovalNeededError(words % {"amount": dollars(amount), "limit": dollars(approval_limit())})
    job = Job.objects.open().filter(instrument=fresh.instrument).first()
    save_columns(fresh, sent_at=at, job=job, **_promise(fresh, promised_on))
    _carry(fresh, Whereabouts.ON_BENCH if job else Whereabouts.IN_STORE, Whereabouts.AT_SHOP, actor=actor, at=at)
    _log(fresh, "sent_to_shop", shop=fresh.shop_id, promised_on=fresh.promised_on)
    return fresh


def _promise(order: ShopOrder, on: date | None) -> dict[str, Any]:
    """The columns of a new promise: the first one stays, because lateness is counted from it."""
    latest = on or order.promised_on
    return {"promised_on": latest, "first_promised_on": order.first_promised_on or latest}


def _carry(order: ShopOrder, expected: Whereabouts, to: Whereabouts, *, actor: User, at: datetime) -> None:
    reference = f"order:{order.pk}"
    move_instrument(instrument=order.instrument, expected=expected, to=to, actor=actor, at=at, reference=reference)


@service
def bring_back(
    *,
    order: ShopOrder,
    what_was_done: str,
    actor: User,
    at: datetime,
    put_right: Sequence[int] = (),
    warranty_until: date | None = None,
) -> ShopOrder:
    """It is back: on the bench if its job is open, else in storage, where it stays until somebody has played it.

    ``put_right`` are the findings the shop has dealt with; they close. Refuses what is not at a shop.
    """
    fresh = _fresh(order)
    if not fresh.is_away:
        raise RefusedError(
            gettext("It is not at the shop.") if fresh.sent_at is None else gettext("It is already back.")
        )
    if not what_was_done.strip():
        raise RefusedError(gettext("Say what the shop did, or that it did nothing."))
    if set(put_right) - set(fresh.findings):
        raise RefusedError(gettext("The shop was not asked about one of these findings."))
    if warranty_until is not None and warranty_until < timezone.localdate(at):
        raise RefusedError(gettext("The warranty cannot end before the instrument is back."))
    save_columns(fresh, returned_at=at, what_was_done=what_was_done.strip(), warranty_until=warranty_until)
    has_job = Job.objects.open().filter(instrument=fresh.instrument).exists()
    _carry(fresh, Whereabouts.AT_SHOP, Whereabouts.ON_BENCH if has_job else Whereabouts.IN_STORE, actor=actor, at=at)
    if put_right:
        close_findings(
            instrument=fresh.instrument, finding_ids=sorted(put_right), because=Closed.REPAIRED,
            reference=f"order:{fresh.pk}", actor=actor, at=at,
        )  # fmt: skip
    _log(fresh, "back_from_shop", shop=fresh.shop_id, put_right=sorted(put_right))
    return fresh


@service
def note_invoice(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, number: str = ""
) -> ShopOrder:
    """Keep the bill. One above what was approved is kept all the same and shows as that."""
    fresh = _fresh(order)
    if fresh.returned_at is None:
        raise RefusedError(gettext("Enter the bill once the instrument is back."))
    if amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    before = fresh.invoice_amount
    save_columns(fresh, invoice_amount=amount, invoice_number=number.strip(), invoice_on=on)
    _log(fresh, "invoice_noted", amount=amount, before=before)
    return fresh


@service
def tie_play_test(*, order: ShopOrder, play_test: PlayTest, actor: User, at: datetime) -> ShopOrder:
    """Say which play test proved the shop's work: the first one after it came back."""
    fresh = _fresh(order)
    if fresh.returned_at is None or play_test.played_at < fresh.returned_at:
        raise RefusedError(gettext("That test was done before it came back."))
    if play_test.instrument_id != fresh.instrument_id:
        raise RefusedError(gettext("That test is for another instrument."))
    if fresh.play_test_id is None:
        save_columns(fresh, play_test=play_test)
        _log(fresh, "shop_work_played", result=play_test.result)
    return fresh


@service
def call_off(*, order: ShopOrder, because: str, actor: User, at: datetime) -> ShopOrder:
    """Cancel an order that was not sent."""
    fresh = _fresh(order)
    if fresh.sent_at is not None:
        raise RefusedError(gettext("It has already been sent, so the order cannot be canceled."))
    if not because.strip():
        raise RefusedError(gettext("Say why."))
    save_columns(fresh, called_off_at=at, called_off_because=because.strip()[:200])
    _log(fresh, "order_called_off")
    return fresh
