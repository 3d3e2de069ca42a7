"""Outside shops: asking, sending, what came back and what it cost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from core.events import record_event
from core.models import User
from core.money import dollars
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError, UsedFormError
from inventory.models import Closed, Finding, Instrument, PlayTest, Whereabouts
from inventory.services.checking import check_row
from inventory.services.event_log import log_event
from inventory.services.inspecting import close_findings
from inventory.services.state import move_instrument
from repairs.exceptions import ApprovalNeededError
from repairs.models import Job, Shop, ShopOrder
from repairs.rules.shops import needs_approval


def approval_limit() -> Decimal:
    """Above this amount somebody has to approve."""
    return catalog().settings["approval_amount"]


@transaction.atomic
def add_shop(*, name: str, actor: User, at: datetime, contact: str = "", address: str = "", note: str = "") -> Shop:
    """Put a shop on the district's list."""
    shop = Shop(name=name.strip(), contact=contact.strip(), address=address.strip(), note=note.strip())
    if Shop.objects.filter(name__iexact=shop.name).exists():
        raise RefusedError(f"{shop.name} is on the list already.")
    check_row(shop)
    shop.save()
    record_event(actor=actor, act="shop_added", subject=shop, at=at)
    return shop


@transaction.atomic
def change_shop(
    *, shop: Shop, name: str, actor: User, at: datetime, contact: str, address: str, note: str, is_used: bool
) -> Shop:
    """Correct a shop; one that is not used any more is not offered, and keeps its orders."""
    fresh = Shop.objects.get(pk=shop.pk)
    if Shop.objects.filter(name__iexact=name.strip()).exclude(pk=fresh.pk).exists():
        raise RefusedError(f"{name.strip()} is on the list already.")
    fresh.name, fresh.contact, fresh.address = name.strip(), contact.strip(), address.strip()
    fresh.note, fresh.is_used = note.strip(), is_used
    check_row(fresh)
    fresh.save()
    record_event(actor=actor, act="shop_changed", subject=fresh, at=at, after={"is_used": is_used})
    return fresh


def _tell(order: ShopOrder, act: str, *, actor: User, at: datetime, after: dict[str, Any]) -> None:
    instrument = order.instrument
    log_event(instrument=instrument, act=act, subject=order, actor=actor, at=at, after=after)


def _fresh(order: ShopOrder) -> ShopOrder:
    rows = ShopOrder.objects.select_for_update(of=("self",)).select_related("instrument__school", "shop", "job")
    fresh = rows.get(pk=order.pk)
    if fresh.called_off_at is not None:
        raise RefusedError("This order was called off. Nothing was changed.")
    return fresh


@transaction.atomic
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
    expected_low_amount: Decimal | None = None,
    expected_high_amount: Decimal | None = None,
    promised_on: date | None = None,
) -> ShopOrder:
    """Write down what a shop is asked about a horn; it stays where it is until it is sent.

    The same nonce again returns the order. Refuses a second open order on a horn, findings that are not its own or do
    not stand, and a horn that is not in the house.
    """
    known = ShopOrder.objects.filter(nonce=nonce).first()
    if known is not None and known.instrument_id != instrument.pk:
        raise UsedFormError
    if known is not None:
        return known
    if not question.strip():
        raise RefusedError("Say what the shop is asked to do.")
    if work and work not in catalog().methods:
        raise RefusedError(f"The catalog has no kind of work called {work}.")
    fresh = Instrument.objects.get(pk=instrument.pk)
    if fresh.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        raise RefusedError(f"{fresh.asset_number} is {fresh.get_whereabouts_display().lower()}; it cannot be sent.")
    standing = set(Finding.objects.filter(instrument=fresh, pk__in=findings).standing().values_list("pk", flat=True))
    if standing != set(findings):
        raise RefusedError("One of the findings is put right meanwhile. Look again at what to ask.")
    order = ShopOrder(
        shop=shop,
        instrument=fresh,
        job=Job.objects.open().filter(instrument=fresh).first(),
        nonce=nonce,
        work=work,
        question=question.strip(),
        findings=sorted(standing),
        asked_at=at,
        asked_by=actor,
        expected_low_amount=expected_low_amount,
        expected_high_amount=expected_high_amount,
        promised_on=promised_on,
    )
    if ShopOrder.objects.open().filter(instrument=fresh).exists():
        raise RefusedError(f"A shop is being asked about {fresh.asset_number} already.")
    check_row(order)
    try:
        with transaction.atomic():
            order.save()
    except IntegrityError:
        raise RefusedError(f"A shop is being asked about {fresh.asset_number} already.") from None
    _tell(order, "shop_asked", actor=actor, at=at, after={"shop": shop.pk, "work": work, "findings": order.findings})
    return order


@transaction.atomic
def note_estimate(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, promised_on: date | None = None
) -> ShopOrder:
    """Keep what the shop says it will cost. Above the limit, and above what was approved, it asks for an approval."""
    fresh = _fresh(order)
    if fresh.returned_at is not None:
        raise RefusedError("It is back already; what counts now is the invoice.")
    if amount < 0:
        raise RefusedError("An estimate is nothing or more.")
    before = fresh.estimate_amount
    fresh.estimate_amount, fresh.estimate_on = amount, on
    fresh.promised_on = promised_on or fresh.promised_on
    check_row(fresh)
    fresh.save()
    _tell(fresh, "estimate_given", actor=actor, at=at, after={"estimate": amount, "before": before})
    return fresh


@transaction.atomic
def approve_order(*, order: ShopOrder, amount: Decimal, actor: User, at: datetime) -> ShopOrder:
    """Allow an order to cost so much. Only who may approve costs; it is kept with name and amount."""
    if not has_perm_at_school(actor, "repairs.approve_cost", order.instrument.school_id):
        raise ApprovalNeededError("Approving costs is for a director or an administrator.")
    fresh = _fresh(order)
    if amount <= 0:
        raise RefusedError("Say up to what amount.")
    if fresh.known_amount is not None and amount < fresh.known_amount:
        raise RefusedError(f"It will cost {dollars(fresh.known_amount)}. Approve that, or call the order off.")
    fresh.approved_amount, fresh.approved_at, fresh.approved_by = amount, at, actor
    check_row(fresh)
    fresh.save()
    _tell(fresh, "cost_approved", actor=actor, at=at, after={"amount": amount})
    return fresh


@transaction.atomic
def send_to_shop(*, order: ShopOrder, actor: User, at: datetime, promised_on: date | None = None) -> ShopOrder:
    """Send it off: the horn is at the shop from now on, its job stays open.

    Refuses what was sent before, and raises ApprovalNeededError above the limit without an approval.
    """
    fresh = _fresh(order)
    if fresh.sent_at is not None:
        raise RefusedError("It was sent already.")
    if promised_on is not None and promised_on < timezone.localdate(at):
        raise RefusedError("The promised day is past.")
    amount = fresh.known_amount
    if needs_approval(amount=amount, limit=approval_limit(), approved=fresh.approved_amount):
        raise ApprovalNeededError(
            f"{dollars(amount)} is above {dollars(approval_limit())}: a director or an administrator approves it first."
        )
    job = Job.objects.open().filter(instrument=fresh.instrument).first()
    fresh.sent_at, fresh.job = at, job
    fresh.promised_on = promised_on or fresh.promised_on
    check_row(fresh)
    fresh.save()
    move_instrument(
        instrument=fresh.instrument,
        expected=Whereabouts.ON_BENCH if job else Whereabouts.IN_STORE,
        to=Whereabouts.AT_SHOP,
        actor=actor,
        at=at,
        reference=f"order:{fresh.pk}",
    )
    _tell(fresh, "sent_to_shop", actor=actor, at=at, after={"shop": fresh.shop_id, "promised_on": fresh.promised_on})
    return fresh


@transaction.atomic
def bring_back(
    *,
    order: ShopOrder,
    what_was_done: str,
    actor: User,
    at: datetime,
    put_right: Sequence[int] = (),
    warranty_until: date | None = None,
) -> ShopOrder:
    """It is back: on the bench if its job is open, else in store, where it stays until somebody has played it.

    ``put_right`` are the findings the shop has dealt with; they close. Refuses what is not at a shop.
    """
    fresh = _fresh(order)
    if not fresh.is_away:
        raise RefusedError("It is not at the shop." if fresh.sent_at is None else "It is back already.")
    if not what_was_done.strip():
        raise RefusedError("Say what the shop did, or that it did nothing.")
    if set(put_right) - set(fresh.findings):
        raise RefusedError("The shop was not asked about one of these findings.")
    if warranty_until is not None and warranty_until < timezone.localdate(at):
        raise RefusedError("The warranty cannot have ended before the horn is back.")
    fresh.returned_at, fresh.what_was_done, fresh.warranty_until = at, what_was_done.strip(), warranty_until
    check_row(fresh)
    fresh.save()
    has_job = Job.objects.open().filter(instrument=fresh.instrument).exists()
    move_instrument(
        instrument=fresh.instrument,
        expected=Whereabouts.AT_SHOP,
        to=Whereabouts.ON_BENCH if has_job else Whereabouts.IN_STORE,
        actor=actor,
        at=at,
        reference=f"order:{fresh.pk}",
    )
    if put_right:
        close_findings(
            instrument=fresh.instrument, finding_ids=sorted(put_right), because=Closed.REPAIRED,
            reference=f"order:{fresh.pk}", actor=actor, at=at,
        )  # fmt: skip
    _tell(fresh, "back_from_shop", actor=actor, at=at, after={"shop": fresh.shop_id, "put_right": sorted(put_right)})
    return fresh


@transaction.atomic
def note_invoice(
    *, order: ShopOrder, amount: Decimal, on: date, actor: User, at: datetime, number: str = ""
) -> ShopOrder:
    """Keep the bill. One above what was approved is kept all the same and shows as that."""
    fresh = _fresh(order)
    if fresh.returned_at is None:
        raise RefusedError("Note the bill when the horn is back.")
    if amount < 0:
        raise RefusedError("A bill is nothing or more.")
    before = fresh.invoice_amount
    fresh.invoice_amount, fresh.invoice_number, fresh.invoice_on = amount, number.strip(), on
    check_row(fresh)
    fresh.save()
    _tell(fresh, "invoice_noted", actor=actor, at=at, after={"amount": amount, "before": before})
    return fresh


@transaction.atomic
def tie_play_test(*, order: ShopOrder, play_test: PlayTest, actor: User, at: datetime) -> ShopOrder:
    """Say which play test proved the shop's work: the first one after it came back."""
    fresh = _fresh(order)
    if fresh.returned_at is None or play_test.played_at < fresh.returned_at:
        raise RefusedError("That test was before it came back.")
    if play_test.instrument_id != fresh.instrument_id:
        raise RefusedError("That test is of another instrument.")
    if fresh.play_test_id is None:
        ShopOrder.objects.filter(pk=fresh.pk).update(play_test=play_test)
        _tell(fresh, "shop_work_played", actor=actor, at=at, after={"result": play_test.result})
    return ShopOrder.objects.get(pk=fresh.pk)


@transaction.atomic
def call_off(*, order: ShopOrder, because: str, actor: User, at: datetime) -> ShopOrder:
    """Give up an order that was not sent."""
    fresh = _fresh(order)
    if fresh.sent_at is not None:
        raise RefusedError("It is at the shop or was there; it cannot be called off.")
    if not because.strip():
        raise RefusedError("Say why.")
    fresh.called_off_at, fresh.called_off_because = at, because.strip()[:200]
    fresh.save()
    _tell(fresh, "order_called_off", actor=actor, at=at, after={})
    return fresh
