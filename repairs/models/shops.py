"""Outside shops, what was sent to them, and the budgets that pay for it."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from core.models import User
from inventory.models import Instrument, PlayTest, School, SchoolRowsQuerySet
from repairs.models import order_money
from repairs.models.work import Job
from repairs.rules.shops import Limits, OrderMoney


class Shop(models.Model):
    """A shop that the whole district sends to."""

    name = models.CharField(max_length=120)
    contact = models.CharField("whom to call", max_length=200, blank=True)
    address = models.CharField(max_length=300, blank=True)
    note = models.TextField(max_length=2000, blank=True)  # what they are good at, account number
    is_used = models.BooleanField("still used", default=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.UniqueConstraint(Lower("name"), name="shop_name_once")]

    def __str__(self) -> str:
        return self.name


class RepairBudgetQuerySet(SchoolRowsQuerySet["RepairBudget"]):
    way_to_school = "school"
    view_permission = "repairs.view_budget"

    def on(self, day: date) -> Self:
        """Those that pay for what is ordered that day."""
        return self.filter(begins_on__lte=day, ends_on__gte=day)

    def with_sums(self) -> Self:
        """With what orders have committed, and what bills and stock have spent."""
        return self.annotate(**order_money.budget_sums(ShopOrder.objects.all(), _stock_moves()))


class RepairBudget(models.Model):
    """What a school may spend on repairs from one fund between two days."""

    school = models.ForeignKey(School, models.PROTECT, related_name="repair_budgets")
    fund = models.CharField(max_length=60)
    begins_on = models.DateField("first day")
    ends_on = models.DateField("last day")
    amount = models.DecimalField(max_digits=9, decimal_places=2, validators=[MinValueValidator(0)])

    objects = RepairBudgetQuerySet.as_manager()

    class Meta:
        ordering = ["school__name", "-begins_on", "fund", "pk"]
        constraints = [
            models.UniqueConstraint(F("school"), Lower("fund"), F("begins_on"), name="budget_once"),
            models.CheckConstraint(condition=Q(ends_on__gte=F("begins_on")), name="budget_ends_later"),
            models.CheckConstraint(condition=Q(amount__gte=0), name="budget_not_negative"),
        ]

    committed: Decimal  # where it was read with_sums
    spent: Decimal

    def __str__(self) -> str:
        return f"{self.fund} {self.begins_on.year}"

    @property
    def left(self) -> Decimal:
        """What is neither spent nor committed; it was read with_sums."""
        return self.amount - self.spent - self.committed


def _stock_moves() -> models.QuerySet[models.Model]:
    """What was bought for stock and not reversed: its module imports this one."""
    return RepairBudget.stock_moves.rel.related_model._default_manager.filter(reversed_by=None)


class ShopOrderQuerySet(SchoolRowsQuerySet["ShopOrder"]):
    view_permission = "repairs.view_shop"

    def open(self) -> Self:
        return self.filter(returned_at=None, called_off_at=None)

    def away(self) -> Self:
        """What is at a shop now."""
        return self.filter(sent_at__isnull=False, returned_at=None)

    def unplayed(self, instrument: int | None = None) -> Self:
        """What came back, was not played since, and did not go out again."""
        later = ShopOrder.objects.filter(
            instrument=models.OuterRef("instrument"), sent_at__gte=models.OuterRef("returned_at")
        ).exclude(pk=models.OuterRef("pk"))
        rows = self.filter(returned_at__isnull=False, play_test=None)
        rows = rows if instrument is None else rows.filter(instrument=instrument)
        return rows.exclude(models.Exists(later)).order_by("returned_at", "pk")

    def bills_to_come(self) -> Self:
        return self.filter(order_money.BILL_TO_COME)

    def refused(self) -> Self:
        """What was not approved: nothing more is ordered, and a bill is disputed."""
        is_open = Q(returned_at=None, called_off_at=None)
        return self.filter(is_open | Q(invoice_amount__isnull=False), refused_at__isnull=False)

    def late(self, *, today: date) -> Self:
        return self.away().filter(first_promised_on__lt=today)

    def with_budget_left(self) -> Self:
        """With what all other orders and the stock leave of its budget."""
        return self.annotate(budget_left=order_money.budget_left(ShopOrder.objects.all(), _stock_moves()))

    def waiting(self, limits: Limits) -> Self:
        """What waits for an approval, as rules.shops.waits_for judges it."""
        names = {"known": order_money.KNOWN, "approved": order_money.APPROVED, "trip": order_money.TRIP}
        return self.with_budget_left().alias(**names).filter(order_money.is_waiting(limits))

    def for_table(self) -> Self:
        return self.with_budget_left().select_related("shop", "instrument", "instrument__school", "job", "budget")


class ShopOrder(models.Model):
    """One question to a shop about one instrument, from asking to the invoice. Its moments tell the step."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="orders")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="shop_orders")
    job = models.ForeignKey(Job, models.PROTECT, null=True, blank=True, related_name="shop_orders")
    decision = models.ForeignKey(  # to send it out, that this order carries out
        "repairs.WorthDecision", models.PROTECT, null=True, blank=True, related_name="orders"
    )
    nonce = models.UUIDField(unique=True)
    together = models.UUIDField(null=True, blank=True, db_index=True)  # shared by what was asked on one form
    warranty_of = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="warranty_returns")
    purchase_order = models.CharField("purchase order", max_length=40, blank=True)
    budget = models.ForeignKey(RepairBudget, models.PROTECT, null=True, blank=True, related_name="orders")
    is_estimate_only = models.BooleanField("for an estimate only", default=False)  # no work until it is ordered
    trip_amount = models.DecimalField(  # trip and bench fee, owed also where no work is ordered
        "trip and bench fee", max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    work = models.CharField("kind of work", max_length=40, blank=True)  # method code of the catalog, "" for other work
    question = models.TextField(max_length=2000)
    findings = models.JSONField(default=list, blank=True)  # finding ids asked about
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    expected_low_amount = models.DecimalField(
        "expected, low", max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    expected_high_amount = models.DecimalField(
        "expected, high", max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    estimate_amount = models.DecimalField(
        "their estimate", max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    estimate_on = models.DateField(null=True, blank=True)
    approved_amount = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    refused_at = models.DateTimeField(null=True, blank=True)
    refused_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    refused_because = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    first_promised_on = models.DateField(null=True, blank=True)  # what it is late against
    promised_on = models.DateField(null=True, blank=True)  # the latest word
    returned_at = models.DateTimeField(null=True, blank=True)
    what_was_done = models.TextField(max_length=2000, blank=True)
    warranty_until = models.DateField(null=True, blank=True)
    invoice_number = models.CharField(max_length=60, blank=True)
    invoice_amount = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    invoice_on = models.DateField(null=True, blank=True)
    play_test = models.OneToOneField(PlayTest, models.PROTECT, null=True, blank=True, related_name="shop_order")
    called_off_at = models.DateTimeField(null=True, blank=True)
    called_off_because = models.CharField(max_length=200, blank=True)

    budget_left: Decimal | None  # where it was read with_budget_left

    objects = ShopOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument"], condition=Q(returned_at=None, called_off_at=None), name="shop_order_one_open"
            ),
            models.CheckConstraint(
                condition=Q(returned_at__isnull=True) | Q(sent_at__isnull=False, returned_at__gte=F("sent_at")),
                name="shop_order_back_after_sent",
            ),
            models.CheckConstraint(
                condition=Q(called_off_at__isnull=True) | Q(sent_at__isnull=True), name="shop_order_called_off_unsent"
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True, approved_by__isnull=True, approved_amount__isnull=True)
                | Q(approved_at__isnull=False, approved_by__isnull=False, approved_amount__isnull=False),
                name="shop_order_approved_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(refused_at__isnull=True, refused_by__isnull=True)
                | Q(refused_at__isnull=False, refused_by__isnull=False),
                name="shop_order_refused_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(first_promised_on__isnull=False) | Q(promised_on__isnull=True),
                name="shop_order_first_promise_kept",
            ),
            models.CheckConstraint(
                condition=Q(expected_low_amount__isnull=True)
                | Q(expected_high_amount__isnull=True)
                | Q(expected_low_amount__lte=F("expected_high_amount")),
                name="shop_order_low_below_high",
            ),
            models.CheckConstraint(
                condition=Q(invoice_amount__isnull=True) | Q(returned_at__isnull=False),
                name="shop_order_invoice_when_back",
            ),
        ]
        indexes = [
            models.Index(
                fields=["first_promised_on"],
                condition=Q(sent_at__isnull=False, returned_at=None),
                name="shop_order_promised",
            )
        ]

    def __str__(self) -> str:
        return f"order {self.pk} on {self.instrument_id}"

    @property
    def is_open(self) -> bool:
        return self.returned_at is None and self.called_off_at is None

    @property
    def is_away(self) -> bool:
        return self.sent_at is not None and self.returned_at is None

    @property
    def is_bill_to_come(self) -> bool:
        """Whether it came back without a bill; a return under warranty needs none."""
        return self.returned_at is not None and self.invoice_amount is None and self.warranty_of_id is None

    @property
    def money(self) -> OrderMoney:
        """What the rules ask of it. One query if a budget pays for it and it was not read with_budget_left."""
        if self.budget_id is not None and "budget_left" not in self.__dict__:
            self.budget_left = ShopOrder.objects.with_budget_left().get(pk=self.pk).budget_left
        since_back = self.approved_at and self.returned_at and self.approved_at >= self.returned_at
        return OrderMoney(
            expected=self.expected_high_amount, estimate=self.estimate_amount, trip=self.trip_amount,
            approved=self.approved_amount, bill=self.invoice_amount, budget_left=self.__dict__.get("budget_left"),
            is_estimate_only=self.is_estimate_only, is_sent=self.sent_at is not None,
            is_back=self.returned_at is not None, is_called_off=self.called_off_at is not None,
            is_refused=self.refused_at is not None, is_approved_since_back=bool(since_back),
        )  # fmt: skip

    @property
    def known_amount(self) -> Decimal | None:
        """The best figure there is: the invoice, else their estimate, else the most that is expected."""
        if self.invoice_amount is not None:
            return self.invoice_amount
        return self.estimate_amount if self.estimate_amount is not None else self.expected_high_amount

    @property
    def work_approved_at(self) -> datetime | None:
        """When somebody approved what its work costs; None where that was for less, as for the fee of a trip."""
        is_covered = self.approved_amount is not None and self.approved_amount >= (self.known_amount or 0)
        return self.approved_at if is_covered else None

    def is_late(self, *, today: date) -> bool:
        return self.is_away and self.first_promised_on is not None and self.first_promised_on < today


class OrderUndo(models.Model):
    """An act on an order that a later one took back: why, and what was typed with it. Never changed."""

    order = models.ForeignKey(ShopOrder, models.PROTECT, related_name="undos")
    number = models.PositiveBigIntegerField(unique=True)  # the event that no longer holds
    act = models.CharField(max_length=60)
    because = models.CharField(max_length=200)
    words = models.TextField(max_length=2000, blank=True)
    undone_at = models.DateTimeField()
    undone_by = models.ForeignKey(User, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.act} of order {self.order_id}"
