"""Orders at outside shops: what is away, what is late, what waits for an approval, and how shops compare."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import F, Q
from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, PlayTest, Whereabouts
from inventory.rules.verdict import finding_name
from repairs.models import Job, Shop, ShopOrder
from repairs.rules.plan import Plan, SentOut
from repairs.rules.shops import OrderFact, ShopRecord, needs_approval, shop_records
from repairs.selectors.planning import plan_for_instrument

CENT = Decimal("0.01")
LATEST_BACK = 20


def approval_limit() -> Decimal:
    """Above this amount somebody has to approve."""
    return catalog().settings["approval_amount"]


def work_name(code: str) -> str:
    method = catalog().methods.get(code)
    return method.name if method else "Other work"


@dataclass(frozen=True, slots=True)
class OrderLine:
    order: ShopOrder
    step: str  # what is the matter with it, in words
    is_late: bool
    is_waiting: bool  # for an approval


def step_words(order: ShopOrder, *, today: date, limit: Decimal) -> str:
    """Say where an order stands."""
    if order.called_off_at:
        return "Called off"
    if order.returned_at:
        if order.invoice_amount is None:
            return "Back, bill to come"
        return "Back and billed"
    if order.is_late(today=today) and order.promised_on:
        days = (today - order.promised_on).days
        return "1 day late" if days == 1 else f"{days} days late"
    if is_waiting(order, limit=limit):
        return "Waits for an approval"
    if order.sent_at:
        return "At the shop"
    return "Ready to send"


def is_waiting(order: ShopOrder, *, limit: Decimal) -> bool:
    """Whether somebody has to approve its cost."""
    return order.is_open and needs_approval(amount=order.known_amount, limit=limit, approved=order.approved_amount)


def line_of(order: ShopOrder, *, today: date, limit: Decimal) -> OrderLine:
    return OrderLine(
        order=order,
        step=step_words(order, today=today, limit=limit),
        is_late=order.is_late(today=today),
        is_waiting=is_waiting(order, limit=limit),
    )


def open_lines(user: Any, *, today: date, limit: Decimal) -> list[OrderLine]:
    """Return every open order the user may see, late ones first. One query."""
    rows = ShopOrder.objects.visible_to(user).open().for_table()
    rows = rows.order_by(F("promised_on").asc(nulls_last=True), "asked_at", "pk")
    lines = [line_of(order, today=today, limit=limit) for order in rows]
    return sorted(lines, key=lambda line: (not line.is_late, not line.is_waiting))


def back_lines(user: Any, *, today: date, limit: Decimal) -> list[OrderLine]:
    """Return the latest orders that came back; those without a bill first. One query."""
    rows = ShopOrder.objects.visible_to(user).filter(returned_at__isnull=False).for_table()
    rows = rows.order_by(F("invoice_amount").asc(nulls_first=True), "-returned_at", "-pk")
    unbilled = rows.filter(invoice_amount=None)
    billed = rows.exclude(invoice_amount=None).order_by("-returned_at", "-pk")[:LATEST_BACK]
    return [line_of(order, today=today, limit=limit) for order in [*unbilled, *billed]]


def late_orders(user: Any, *, today: date) -> list[ShopOrder]:
    """Return what should be back by now. One query."""
    return list(ShopOrder.objects.visible_to(user).late(today=today).for_table().order_by("promised_on", "pk"))


def orders_to_approve(user: Any, *, limit: Decimal) -> list[ShopOrder]:
    """Return the orders whose cost waits for this very user. One query."""
    rows = ShopOrder.objects.visible_to(user, "repairs.approve_cost").open().for_table()
    over = Q(estimate_amount__gt=limit) | Q(estimate_amount=None, expected_high_amount__gt=limit)
    return [order for order in rows.filter(over).order_by("asked_at", "pk") if is_waiting(order, limit=limit)]


@dataclass(frozen=True, slots=True)
class RecordLine:
    record: ShopRecord
    work: str

    @property
    def over_percent(self) -> Decimal | None:
        over = self.record.over_estimate
        return None if over is None else (over * 100).quantize(Decimal(1))


def records(shop: Shop | None = None) -> list[RecordLine]:
    """Return cost and turnaround per shop and kind of work, district-wide: sums without horns or schools. One query."""
    rows = ShopOrder.objects.filter(returned_at__isnull=False).select_related("shop", "play_test")
    if shop is not None:
        rows = rows.filter(shop=shop)
    facts = [fact for fact in map(_fact, rows.order_by("pk")) if fact is not None]
    return [RecordLine(record=record, work=work_name(record.work)) for record in shop_records(facts)]


def _fact(order: ShopOrder) -> OrderFact | None:
    away, sent_at = order.turnaround, order.sent_at
    if away is None or sent_at is None:
        return None
    return OrderFact(
        shop=order.shop.name,
        work=order.work,
        days=round(away.total_seconds() / 86_400, 1),
        amount=order.invoice_amount,
        estimate=order.estimate_amount,
        days_promised=float((order.promised_on - timezone.localdate(sent_at)).days) + 1 if order.promised_on else None,
        has_passed=None if order.play_test is None else order.play_test.result != PlayTest.Result.FAIL,
    )


def findings_in_words(instrument: Instrument, *, ids: Sequence[int] | None = None) -> list[tuple[int, str]]:
    """Return (finding, words): those asked about, or all that stand. One query."""
    rows = Finding.objects.filter(instrument=instrument)
    rows = rows.filter(pk__in=ids) if ids is not None else rows.standing()
    parts, faults = {part.code: part for part in instrument.parts}, catalog().faults
    return [
        (row.pk, finding_name(finding=row.fact, part=parts.get(row.part), faults=faults)) for row in rows.order_by("pk")
    ]


@dataclass(frozen=True, slots=True)
class Asking:
    """What an order would say if nobody typed anything: what the bench cannot do itself, and its fee."""

    question: str
    work: str
    findings: tuple[int, ...]
    low_amount: Decimal | None
    high_amount: Decimal | None


def asking(instrument: Instrument) -> Asking:
    """Fill an order from the plan."""
    job = Job.objects.open().filter(instrument=instrument).select_related("instrument__school", "bench").first()
    plan: Plan = plan_for_instrument(instrument, job=job)
    out = plan.send_out
    if not out:
        return Asking(question="", work="", findings=(), low_amount=None, high_amount=None)
    words = dict(findings_in_words(instrument, ids=_ids(out)))
    lines = [f"{one.say}: {words.get(_id(one), 'see the tag')}." for one in out]
    fees: dict[tuple[str, str, str], SentOut] = {}
    for one in out:  # one method at one place is paid once, whatever the number of findings
        fees.setdefault((one.method, one.finding.part, one.finding.place), one)
    return Asking(
        question="\n".join(dict.fromkeys(lines)),
        work=out[0].method,
        findings=_ids(out),
        low_amount=sum((one.fee_low_amount for one in fees.values()), Decimal(0)).quantize(CENT),
        high_amount=sum((one.fee_high_amount for one in fees.values()), Decimal(0)).quantize(CENT),
    )


def _id(one: SentOut) -> int:
    return int(one.finding.key) if one.finding.key.isdigit() else 0


def _ids(out: Iterable[SentOut]) -> tuple[int, ...]:
    return tuple(sorted({_id(one) for one in out} - {0}))


def warranty_of(instrument: Instrument, *, today: date) -> ShopOrder | None:
    """Return the order whose warranty still runs, the longest first. One query."""
    rows = ShopOrder.objects.filter(instrument=instrument, warranty_until__gte=today).select_related("shop")
    return rows.order_by("-warranty_until").first()


def play_test_since(order: ShopOrder) -> PlayTest | None:
    """Return the first play test after the horn came back, whether tied to the order or not. One query."""
    if order.returned_at is None:
        return None
    rows = PlayTest.objects.filter(instrument=order.instrument_id, played_at__gte=order.returned_at)
    return rows.order_by("played_at", "pk").first()


def order_differences() -> list[str]:
    """Return a sentence for each horn that is at a shop without an order, or away by its order and not at a shop."""
    away = set(ShopOrder.objects.away().values_list("instrument_id", flat=True))
    found = []
    rows = Instrument.objects.filter(Q(pk__in=away) | Q(whereabouts=Whereabouts.AT_SHOP))
    for pk, number, where in rows.values_list("pk", "asset_number", "whereabouts"):
        if (pk in away) != (where == Whereabouts.AT_SHOP):
            found.append(f"{number}: whereabouts is {where}, but {'an' if pk in away else 'no'} order is at a shop")
    return found
