"""Care that was done outside a job: a bath, oil, a look at the corks."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Q

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument


class CareDoneQuerySet(models.QuerySet["CareDone"]):
    def visible_to(self, user: Any) -> Self:
        from inventory.access import schools_of

        return self.filter(instrument__school__in=schools_of(user, "repairs.view_care"))

    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)


class CareDone(models.Model):
    """One piece of care, done to one instrument on a day. When it is due again is computed, never stored."""

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
