"""Care that was done outside a job: a bath, oil, a look at the corks; and when each comes round."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, SchoolRowsQuerySet


class CareNext(models.Model):
    """When a piece of care comes round for one instrument, written by the acts that change it.

    Which of the two days counts depends on how much the instrument was lent out within the last year.
    """

    instrument = models.ForeignKey(Instrument, models.CASCADE, related_name="care_next")
    code = models.CharField(max_length=40)  # interval of the catalog
    last_on = models.DateField(null=True, blank=True)  # None: never recorded, counted from registering
    much_on = models.DateField(null=True, blank=True)  # due then if it is lent out much; None: never
    idle_on = models.DateField(null=True, blank=True)  # due then if it mostly lies in storage; None: never

    class Meta:
        constraints = [models.UniqueConstraint(fields=["instrument", "code"], name="care_next_once")]

    def __str__(self) -> str:
        return f"{self.code} of {self.instrument_id}"


class CareDoneQuerySet(SchoolRowsQuerySet["CareDone"]):
    view_permission = "repairs.view_care"

    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)


class CareDone(models.Model):
    """One piece of care, done to one instrument on a day."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="care_done")
    code = models.CharField(max_length=40)  # interval of the catalog
    done_on = models.DateField()
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)  # entered by mistake

    objects = CareDoneQuerySet.as_manager()

    class Meta:
        ordering = ["-done_on", "-pk"]
        verbose_name_plural = "care done"
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "code", "done_on"], condition=Q(withdrawn_at=None), name="care_once_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} of {self.instrument_id} on {self.done_on}"

    @property
    def name(self) -> str:
        interval = catalog().intervals.get(self.code)
        return interval.name if interval else self.code.replace("_", " ")
