"""rules.shops of an order's money, said to the database: the rules' tests and a drawn one hold both to one answer."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Case, F, OuterRef, Q, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce, Greatest, Round

from repairs.rules.shops import Limits

AMOUNT: models.DecimalField[Decimal, Decimal] = models.DecimalField(max_digits=12, decimal_places=2)
NOTHING = Value(Decimal(0), output_field=AMOUNT)
KNOWN = Coalesce("estimate_amount", "expected_high_amount")
APPROVED = Coalesce("approved_amount", NOTHING)
TRIP = Coalesce("trip_amount", NOTHING)
# ShopOrder.is_bill_to_come
BILL_TO_COME = Q(returned_at__isnull=False, invoice_amount=None, warranty_of=None)

# rules.shops.committed_amount
COMMITTED = Case(
    When(invoice_amount__isnull=False, then=F("invoice_amount")),
    When(called_off_at__isnull=False, then=NOTHING),
    When(refused_at__isnull=False, sent_at=None, then=NOTHING),
    When(is_estimate_only=True, returned_at__isnull=False, then=TRIP),
    When(is_estimate_only=True, then=Greatest(TRIP, APPROVED)),
    default=Greatest(Coalesce(KNOWN, NOTHING), APPROVED),
    output_field=AMOUNT,
)


def sum_of(rows: models.QuerySet[models.Model], amount: Case | F, *, by: str) -> Coalesce:
    """Return the sum of an amount of the rows as a part of another query; 0 for none."""
    sums = rows.order_by().values(by).annotate(sum=Sum(amount, output_field=AMOUNT)).values("sum")
    return Coalesce(Subquery(sums, output_field=AMOUNT), NOTHING, output_field=AMOUNT)


def budget_sums(orders: models.QuerySet[models.Model], moves: models.QuerySet[models.Model]) -> dict[str, Round]:
    """Return what a budget's orders have committed, and what their bills and stock have spent."""
    mine = orders.filter(budget=OuterRef("pk"))
    committed = sum_of(mine.filter(invoice_amount=None), COMMITTED, by="budget")
    billed = sum_of(mine.filter(invoice_amount__isnull=False), F("invoice_amount"), by="budget")
    bought = sum_of(moves.filter(budget=OuterRef("pk")), F("amount"), by="budget")
    sums = {"committed": committed, "spent": billed + bought}
    return {name: Round(amount, precision=2, output_field=AMOUNT) for name, amount in sums.items()}


def budget_left(orders: models.QuerySet[models.Model], moves: models.QuerySet[models.Model]) -> Round:
    """Return what all but this order leave of its budget, None without one; cents, because SQLite sums in halves."""
    others = orders.filter(budget=OuterRef("budget")).exclude(pk=OuterRef("pk"))
    stock = moves.filter(budget=OuterRef("budget"))
    left = F("budget__amount") - sum_of(others, COMMITTED, by="budget") - sum_of(stock, F("amount"), by="budget")
    return Round(left, precision=2, output_field=AMOUNT)


def is_waiting(limits: Limits) -> Q:
    """rules.shops.waits_for, of rows that were given ``known``, ``approved``, ``trip`` and ``budget_left``."""
    beyond = Q(invoice_amount__gt=F("approved"))
    worked = (
        Q(is_estimate_only=False)
        & beyond
        & (Q(known=None) | Q(invoice_amount__gt=F("known")) | Q(invoice_amount__gt=limits.work))
    )
    tripped = (
        Q(is_estimate_only=True)
        & (Q(invoice_amount__gt=F("trip")) | (beyond & Q(invoice_amount__gt=limits.trip)))
        & (Q(approved_at=None) | Q(approved_at__lt=F("returned_at")) | beyond)
    )
    is_work = Q(is_estimate_only=False) | Q(sent_at__isnull=False, estimate_amount__isnull=False)
    work = is_work & (
        Q(known=None, approved_amount=None)
        | Q(known__gt=limits.work, estimate_amount=None)
        | Q(known__gt=limits.work) & Q(known__gt=F("approved"))
        | (Q(sent_at=None) | Q(is_estimate_only=True)) & Q(known__gt=F("budget_left")) & Q(known__gt=F("approved"))
    )
    trip = Q(is_estimate_only=True, sent_at=None, trip__gt=F("approved")) & (
        Q(trip__gt=limits.trip) | Q(trip__gt=F("budget_left"))
    )
    is_back = Q(returned_at__isnull=False)
    return Q(called_off_at=None, refused_at=None) & (is_back & (worked | tripped) | ~is_back & (work | trip))
