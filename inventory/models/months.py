"""The condition of each school's fleet at the end of each month, kept so that a chart over years costs one query."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db import models
from django.db.models import Sum

from inventory.models.places import School, SchoolRowsQuerySet


class FleetMonthQuerySet(SchoolRowsQuerySet["FleetMonth"]):
    way_to_school = "school"

    def sums(self) -> models.QuerySet[FleetMonth, tuple[date, int, Decimal, Decimal]]:
        """Return day, instruments, cost to playing condition and replacement cost of these schools, newest first."""
        sums = (Sum("instruments"), Sum("repair_amount"), Sum("replacement_amount"))
        return self.order_by("-ends_on").values_list("ends_on").annotate(*sums)


class FleetMonth(models.Model):
    """What was known at the end of a month's last day. Derived: ``manage.py value`` gives the same from the records.

    Made once by ``manage.py keep_months`` and never changed.
    """

    school = models.ForeignKey(School, models.PROTECT, related_name="months")
    ends_on = models.DateField()
    instruments = models.PositiveIntegerField()
    repair_amount = models.DecimalField(max_digits=14, decimal_places=2)  # cost to playing condition
    replacement_amount = models.DecimalField(max_digits=14, decimal_places=2)

    objects = FleetMonthQuerySet.as_manager()

    class Meta:
        ordering = ["ends_on", "school"]
        constraints = [models.UniqueConstraint(fields=["ends_on", "school"], name="fleet_month_once")]

    def __str__(self) -> str:
        return f"{self.ends_on:%Y-%m}"
