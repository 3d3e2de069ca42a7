"""Legal holds: what keeps a student's record from being erased."""

from __future__ import annotations

from datetime import date
from typing import Self

from django.db import models

from core.models import User
from inventory.models import SchoolRowsQuerySet
from loans.models.people import Student


class LegalHoldQuerySet(SchoolRowsQuerySet["LegalHold"]):
    way_to_school = "student__school"
    view_permission = "loans.change_hold"

    def in_force(self, *, today: date) -> Self:
        """Those that hold on the day; the last day of a hold is still one."""
        return self.filter(lifted_at=None, ends_on__gte=today)


class LegalHold(models.Model):
    """While it is in force nobody erases the student. It ends on its day, or when it is lifted before."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=400)
    ends_on = models.DateField()
    set_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = LegalHoldQuerySet.as_manager()

    class Meta:
        ordering = ["-set_at", "-pk"]

    def __str__(self) -> str:
        return f"hold {self.pk}"
