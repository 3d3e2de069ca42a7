"""Orders at outside shops: what is away, late, waiting for an approval or back, and the facts that compare shops."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Case, F, Q, When
from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.models import Finding, FindingQuerySet, Instrument, PlayTest, Whereabouts, in_use_on
from repairs.models import Job, Shop, ShopOrder, ShopOrderQuerySet
from repairs.rules.plan import Plan
from repairs.rules.shops import Limits, OrderFact, ShopRecord, Wait, shop_records, waits_for
from repairs.selectors.planning import plan_for_instrument

LATEST_BACK = 20
SHOWN = 8  # orders of a kind on a first page
AT_ONCE = 500  # orders read together for a file
RECORDED = 300  # orders a track record goes back: how a shop works now, and a page that does not grow with the years


def approval_limit() -> Decimal:
    """Above this amount somebody has to approve."""
    return catalog().settings["approval_amount"]


def limits_today() -> Limits:
    """Return what needs no approval."""
    return Limits(work=approval_limit(), trip=catalog().settings["estimate_trip_amount"])


def wait_of(order: ShopOrder) -> Wait | None:
    """Return why it waits for an approval, if it does."""
    return waits_for(order.money, limits_today())


def open_orders(user: Any, *, today: date) -> ShopOrderQuerySet:
    """Return every open order the user may see: late ones first, then those waiting for an approval.

    One query besides.
    """
    rows = ShopOrder.objects.visible_to(user).open()
    # Read first: said inside the order, it is more than the database's parser takes.
    waiting = list(rows.waiting(limits_today()).values_list("pk", flat=True))
    late = ShopOrder.objects.late(today=today)
    first = Case(When(pk__in=late.values("pk"), then=0), When(pk__in=waiting, then=1), default=2)
    return rows.order_by(first, F("promised_on").asc(nulls_last=True), "asked_at", "pk")


def orders_back(user: Any) -> list[ShopOrder]:
    """Return the latest orders that came back, after all those without a bill. Two queries."""
    rows = ShopOrder.objects.visible_to(user).filter(returned_at__isnull=False).order_by("-returned_at", "-pk")
    unbilled = rows.bills_to_come()
    billed = rows.exclude(pk__in=unbilled.values("pk"))[:LATEST_BACK]
    return [*unbilled.keys_first().for_table(), *billed.keys_first().for_table()]


def late_orders(user: Any, *, today: date) -> list[ShopOrder]:
    """Return what should be back by now. One query."""
    rows = ShopOrder.objects.visible_to(user).late(today=today).order_by("promised_on", "pk")
    return list(rows.keys_first().for_table())


def back_unplayed(user: Any) -> list[ShopOrder]:
    """Return what came back and nobody has played, the longest here first. One query."""
    here = {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}
    rows = (
        ShopOrder.objects.visible_to(user)
        .unplayed()
        .filter(in_use_on("instrument__"), instrument__whereabouts__in=here)
    )
    return list(rows[:SHOWN].keys_first().for_table())


def bills_to_come(user: Any) -> list[ShopOrder]:
    """Return what came back without a bill, the longest ago first. One query."""
    rows = ShopOrder.objects.visible_to(user).bills_to_come().order_by("returned_at", "pk")
    return list(rows[:SHOWN].keys_first().for_table())


def failed_order(instrument: Instrument, test: PlayTest | None) -> ShopOrder | None:
    """Return the order whose work is back and failed its latest play test, unless it went back already. One query."""
    if test is None or test.result != PlayTest.Result.FAIL:
        return None
    rows = ShopOrder.objects.filter(instrument=instrument, is_estimate_only=False, called_off_at=None)
    order = rows.select_related("shop").order_by("-asked_at", "-pk").first()
    return order if order is not None and order.returned_at and order.returned_at <= test.played_at else None


def orders_to_approve(user: Any) -> ShopOrderQuerySet:
    """Return what waits for an approval where this user gives them."""
    rows = ShopOrder.objects.visible_to(user, "repairs.approve_cost")
    return rows.waiting(limits_today()).order_by("asked_at", "pk")


def orders_between(user: Any, *, first: date | None, last: date | None) -> ShopOrderQuerySet:
    """Return the orders asked between two days where the user sees budgets, oldest first."""
    rows = ShopOrder.objects.visible_to(user, "repairs.view_budget").for_table()
    if first:
        rows = rows.filter(asked_at__date__gte=first)
    if last:
        rows = rows.filter(asked_at__date__lte=last)
    return rows.select_related("asked_by", "approved_by", "refused_by").order_by("asked_at", "pk")


def refused_orders(user: Any) -> list[ShopOrder]:
    """Return what this user asked for and somebody refused: work to estimate again, bills to correct. One query."""
    rows = ShopOrder.objects.visible_to(user, "repairs.send_out").filter(asked_by=user).refused()
    return list(rows.order_by("-refused_at", "-pk").keys_first().for_table().select_related("refused_by"))


def records(shop: Shop | None = None) -> list[ShopRecord]:
    """Return cost and turnaround per shop and kind of work: district-wide, of the latest orders. One query."""
    is_return = Q(warranty_of__isnull=False, sent_at__isnull=False)  # counts as soon as it left again
    rows = ShopOrder.objects.filter(Q(returned_at__isnull=False) | is_return, is_estimate_only=False)
    if shop is not None:
        rows = rows.filter(shop=shop)
    columns = (
        "shop__name", "work", "sent_at", "returned_at", "invoice_amount", "estimate_amount", "first_promised_on",
        "play_test__result", "pk", "warranty_of",
    )  # fmt: skip
    newest_first = F("returned_at").desc(nulls_first=True)
    latest = rows.order_by(newest_first, "-pk").values_list(*columns)[:RECORDED]
    facts = [
        OrderFact(
            shop=shop,
            work=work,
            days=round((returned_at - sent_at) / timedelta(days=1), 1) if returned_at else 0.0,
            amount=amount,
            estimate=estimate,
            days_promised=float((promised_on - timezone.localdate(sent_at)).days) + 1 if promised_on else None,
            has_passed=None if result is None else result != PlayTest.Result.FAIL,
            key=key,
            warranty_of=made_good,
        )
        for shop, work, sent_at, returned_at, amount, estimate, promised_on, result, key, made_good in latest
    ]
    return list(shop_records(facts))


def findings_about(instrument: Instrument, *, ids: Sequence[int] | None = None) -> FindingQuerySet:
    """Return the findings asked about, or all that stand."""
    rows = Finding.objects.filter(instrument=instrument).order_by("pk")
    return rows.standing() if ids is None else rows.filter(pk__in=ids)


def plan_today(instrument: Instrument) -> Plan:
    """Return the plan of its open job, or of its school's bench."""
    job = Job.objects.open().filter(instrument=instrument).select_related("instrument__school", "bench").first()
    return plan_for_instrument(instrument, job=job)


def likely_shop(work: str) -> Shop | None:
    """Return the shop that was asked last for such work, or for any, of those still used. One query."""
    same = Case(When(work=work, then=0), default=1)
    rows = ShopOrder.objects.filter(shop__is_used=True, called_off_at=None).order_by(same, "-asked_at", "-pk")
    order = rows.select_related("shop").first()
    return order.shop if order else None


def warranty_of(instrument: Instrument, *, today: date) -> ShopOrder | None:
    """Return the order whose warranty still runs, the longest first. One query."""
    rows = ShopOrder.objects.filter(instrument=instrument, warranty_until__gte=today).select_related("shop")
    return rows.order_by("-warranty_until").first()


def has_come_back(job: Job) -> bool:
    """Whether an order of the job has come back from its shop. One query."""
    return ShopOrder.objects.filter(job=job, returned_at__isnull=False).exists()


def play_test_since(order: ShopOrder) -> PlayTest | None:
    """Return the first play test after it came back, whether tied to the order or not. One query."""
    if order.returned_at is None:
        return None
    rows = PlayTest.objects.filter(instrument=order.instrument_id, played_at__gte=order.returned_at)
    return rows.order_by("played_at", "pk").first()


def latest_test(order: ShopOrder) -> PlayTest | None:
    """Return the latest play test after it came back. One query."""
    rows = PlayTest.objects.filter(instrument=order.instrument_id, played_at__gte=order.returned_at)
    return rows.order_by("played_at", "pk").last()


def is_redone(order: ShopOrder) -> bool:
    """Whether a later order, under its warranty or not, has taken its place. One query."""
    rows = ShopOrder.objects.filter(instrument=order.instrument_id, asked_at__gt=order.returned_at)
    return rows.filter(called_off_at=None).exclude(pk=order.pk).exists()


def order_differences() -> list[str]:
    """Return a sentence for each instrument at a shop without an order, or away by its order and not at a shop."""
    away = set(ShopOrder.objects.away().values_list("instrument_id", flat=True))
    found = []
    rows = Instrument.objects.filter(Q(pk__in=away) | Q(whereabouts=Whereabouts.AT_SHOP))
    for pk, number, where in rows.values_list("pk", "asset_number", "whereabouts"):
        if (pk in away) != (where == Whereabouts.AT_SHOP):
            found.append(f"{number}: whereabouts is {where}, but {'an' if pk in away else 'no'} order is at a shop")
    return found
