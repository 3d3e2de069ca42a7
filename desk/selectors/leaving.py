"""What has to be settled before an instrument leaves, what it is worth, and what left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext_noop

from desk.selectors.value import trade_of, valued
from inventory.models import Disposal, DisposalQuerySet, Instrument, Transfer, TransferQuerySet
from inventory.rules.leaving import TRANSFER
from inventory.selectors.past import AsOf
from loans.models import Loan, Loss, SharedUse
from repairs.models import Job, ShopOrder, WorthDecision
from repairs.rules.worth import Answer
from repairs.selectors.decisions import in_force

# By the code of a hold: what to do first.
FIRST: Mapping[str, str] = {
    "loan": gettext_noop("It is lent. Take it back first."),
    "lost": gettext_noop("It is reported lost or stolen. End that case first: found, or given up."),
    "job": gettext_noop("A repair job is open. Finish it or give it up first."),
    "order": gettext_noop("A shop order is open. Record that it is back, or cancel the order first."),
    "shared": gettext_noop("It is shared in class. End that first."),
    "decision": gettext_noop("A decision about it waits for approval. Settle that first."),
}


@dataclass(frozen=True, slots=True)
class Hold:
    """What keeps it from leaving, and the key of the row that is about."""

    code: str
    key: int


def holds_on(instrument: Instrument) -> Iterator[Hold]:
    """Yield what has to be settled first: its loan, job, shop order, use in class, a decision that waits. Five queries."""
    loan = Loan.objects.open().filter(instrument=instrument).first()
    if loan is not None:
        is_reported = Loss.objects.open().filter(loan=loan).exists()
        yield Hold("lost" if is_reported else "loan", loan.pk)
    if job := Job.objects.open().filter(instrument=instrument).first():
        yield Hold("job", job.pk)
    if order := ShopOrder.objects.open().filter(instrument=instrument).first():
        yield Hold("order", order.pk)
    if use := SharedUse.objects.filter(instrument=instrument, until=None).first():
        yield Hold("shared", use.pk)
    if decision := WorthDecision.objects.waiting().filter(instrument=instrument).first():
        yield Hold("decision", decision.pk)


def offer_of(instrument: Instrument) -> Transfer | None:
    """Return the open offer to another school. One query."""
    return Transfer.objects.open().filter(instrument=instrument).select_related("to_school", "actor").first()


def value_now(instrument: Instrument, *, today: date) -> Decimal:
    """Return what it is worth as it is. A handful of queries."""
    as_of = AsOf(today)
    rows = Instrument.objects.filter(pk=instrument.pk)
    return next((one.condition_adjusted for one in valued(as_of, trade=trade_of(as_of), rows=rows)), Decimal(0))


def retirement_of(instrument: Instrument) -> WorthDecision | None:
    """Return the decision to retire it that holds. One query."""
    decision = in_force(instrument)
    return decision if decision is not None and decision.answer == Answer.RETIRE and decision.holds else None


def given_up(instrument: Instrument) -> Loss | None:
    """Return the case of the family whose loan ended with it lost: its police and claim numbers. One query."""
    rows = Loss.objects.filter(loan__instrument=instrument, outcome=Loss.Outcome.GIVEN_UP)
    return rows.select_related("loan__instrument__school", "loan__school", "loan__hand_out").order_by("-pk").first()


def disposals_for(
    user: Any,
    *,
    permission: str = "",
    way: str = "",
    school: int | None = None,
    first: date | None = None,
    last: date | None = None,
) -> DisposalQuerySet:
    """Return what is out of the fleet of the user's schools, latest first."""
    rows = Disposal.objects.visible_to(user, permission).standing()
    rows = rows.filter(way=way) if way else rows
    rows = rows if school is None else rows.filter(instrument__school=school)
    rows = rows if first is None else rows.filter(on__gte=first)
    rows = rows if last is None else rows.filter(on__lte=last)
    return rows.order_by("-on", "-pk")


def offers_to(user: Any) -> TransferQuerySet:
    """Return the open offers to schools where the user may take them, oldest first."""
    return Transfer.objects.open().coming_to(user, TRANSFER).order_by("offered_at", "pk")


def offers_from(user: Any) -> TransferQuerySet:
    """Return the open offers of the user's own schools, oldest first."""
    return Transfer.objects.open().visible_to(user, TRANSFER).order_by("offered_at", "pk")


def transfers_seen(user: Any) -> TransferQuerySet:
    """Return the transfers from or to schools where the user may move instruments."""
    mine = Transfer.objects.visible_to(user, TRANSFER).values("pk")
    return Transfer.objects.filter(Q(pk__in=mine) | Q(pk__in=Transfer.objects.coming_to(user, TRANSFER).values("pk")))
