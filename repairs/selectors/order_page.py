"""One order as its page and its packing slip show it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from core.money import dollars
from inventory.models import District, PlayTest, Tag
from repairs.models import ShopOrder
from repairs.rules.shops import needs_approval
from repairs.selectors.shops import findings_in_words, is_waiting, play_test_since, step_words, work_name


@dataclass(frozen=True, slots=True)
class Moment:
    """One line of an order's story."""

    at: datetime | date
    what: str
    who: str = ""
    more: str = ""


@dataclass(frozen=True, slots=True)
class OrderPage:
    order: ShopOrder
    step: str
    work: str
    is_late: bool
    is_waiting: bool  # for an approval
    is_over_approved: bool  # the bill is above what was approved, or above the limit without an approval
    limit: Decimal
    findings: list[tuple[int, str]]  # that the question does not name
    moments: tuple[Moment, ...]
    play_test: PlayTest | None
    is_play_test_due: bool
    is_warranty_running: bool


def order_page(order: ShopOrder, *, today: date, limit: Decimal) -> OrderPage:
    """Return an order with its story. Two queries."""
    played = order.play_test or play_test_since(order)
    return OrderPage(
        order=order,
        step=step_words(order, today=today, limit=limit),
        work=work_name(order.work),
        is_late=order.is_late(today=today),
        is_waiting=is_waiting(order, limit=limit),
        is_over_approved=needs_approval(amount=order.invoice_amount, limit=limit, approved=order.approved_amount),
        limit=limit,
        findings=_unsaid(order),
        moments=_moments(order, played=played),
        play_test=played,
        is_play_test_due=order.returned_at is not None and played is None,
        is_warranty_running=order.warranty_until is not None and order.warranty_until >= today,
    )


def _unsaid(order: ShopOrder) -> list[tuple[int, str]]:
    """What it is about, but for what the question names in the same words."""
    told = findings_in_words(order.instrument, ids=order.findings) if order.findings else []
    return [(key, words) for key, words in told if words.lower() not in order.question.lower()]


def _moments(order: ShopOrder, *, played: PlayTest | None) -> tuple[Moment, ...]:
    """The story, latest first."""
    told: list[Moment] = [Moment(order.asked_at, "Asked", str(order.asked_by))]
    if order.estimate_on and order.estimate_amount is not None:
        told.append(Moment(order.estimate_on, f"They said {dollars(order.estimate_amount)}"))
    if order.approved_at:
        told.append(
            Moment(order.approved_at, f"Approved up to {dollars(order.approved_amount)}", str(order.approved_by))
        )
    if order.called_off_at:
        told.append(Moment(order.called_off_at, "Called off", more=order.called_off_because))
    if order.sent_at:
        more = f"promised for {order.promised_on:%b} {order.promised_on.day}" if order.promised_on else ""
        told.append(Moment(order.sent_at, "Sent", more=more))
    if order.returned_at:
        told.append(Moment(order.returned_at, "Came back", more=order.what_was_done))
    if order.invoice_on and order.invoice_amount is not None:
        number = f"number {order.invoice_number}" if order.invoice_number else ""
        told.append(Moment(order.invoice_on, f"Bill of {dollars(order.invoice_amount)}", more=number))
    if played:
        told.append(
            Moment(played.played_at, f"Play test: {played.get_result_display().lower()}", more=played.limits_text)
        )
    return tuple(sorted(told, key=_when, reverse=True))


def _when(moment: Moment) -> date:
    return timezone.localdate(moment.at) if isinstance(moment.at, datetime) else moment.at


@dataclass(frozen=True, slots=True)
class Slip:
    """What goes into the case: nothing about a student, nothing about a donor."""

    order: ShopOrder
    district: str
    work: str
    findings: tuple[str, ...]
    accessories: tuple[tuple[str, int], ...]  # what lies in the case, as last counted
    tag_url: str
    made_on: date


def slip_of(order: ShopOrder, *, home: str, today: date) -> Slip:
    """Return the packing slip of an order. Four queries."""
    tag = Tag.objects.live().filter(instrument=order.instrument_id, accessory=None).first()
    district = District.objects.first()
    return Slip(
        order=order,
        district=district.name if district else "",
        work=work_name(order.work),
        findings=tuple(words for _, words in _unsaid(order)),
        accessories=tuple(
            (row.name, row.expected if row.present is None else row.present)
            for row in order.instrument.accessories.all()
            if row.present != 0
        ),
        tag_url=tag.address(home=home) if tag else "",
        made_on=today,
    )
