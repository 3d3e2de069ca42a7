"""Requests to buy instruments."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models.places import School, SchoolRowsQuerySet


class PurchaseRequestQuerySet(SchoolRowsQuerySet["PurchaseRequest"]):
    way_to_school = "school"
    view_permission = "inventory.view_purchase"

    def for_table(self) -> Self:
        return self.select_related("school", "asked_by", "closed_by")

    def open(self) -> Self:
        return self.filter(closed_at=None)

    def counts(self) -> Counter[tuple[str, str, str]]:
        """Return how many are asked for, by the school's code, kind and size."""
        counts = Counter[tuple[str, str, str]]()
        for school, lines in self.order_by().values_list("school__code", "lines"):
            for line in lines:
                counts[school, line["kind"], line["size"]] += line["count"]
        return counts


class PurchaseRequest(models.Model):
    """What a school asks the district to buy, at the prices of that day. Open until bought or withdrawn.

    Each line holds codes and figures: ``kind``, ``size``, ``make``, ``count``, ``each`` and ``ready_on``.
    """

    class Closed(models.TextChoices):
        BOUGHT = "bought", _("Bought")
        WITHDRAWN = "withdrawn", _("Withdrawn")

    school = models.ForeignKey(School, models.PROTECT, related_name="purchase_requests")
    lines = models.JSONField()
    for_whom = models.CharField(max_length=400, blank=True)  # ensembles, as they were named
    needed_by = models.DateField(null=True, blank=True)
    seated = models.PositiveIntegerField()  # seats of the school that the plan fills with these
    wanted = models.PositiveIntegerField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, models.PROTECT, related_name="+")

    closed_at = models.DateTimeField(null=True, blank=True)
    closed_as = models.CharField(max_length=10, choices=Closed, blank=True)
    closed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = PurchaseRequestQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(lines=[]), name="purchase_request_asks_something"),
            models.CheckConstraint(condition=Q(seated__lte=F("wanted")), name="purchase_request_seats_wanted"),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, closed_as="")
                | Q(closed_at__isnull=False, closed_by__isnull=False, closed_as__in=["bought", "withdrawn"]),
                name="purchase_request_closed_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"purchase request {self.pk}"

    @property
    def count(self) -> int:
        return sum(line["count"] for line in self.lines)

    @property
    def total_amount(self) -> Decimal:
        return sum((Decimal(line["each"]) * line["count"] for line in self.lines), Decimal(0))
