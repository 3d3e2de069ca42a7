"""The grades going up, once a school year."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from core.models import User
from inventory.models import School, SchoolRowsQuerySet


class GradeRollQuerySet(SchoolRowsQuerySet["GradeRoll"]):
    way_to_school = "school"
    view_permission = "loans.view_student"


class GradeRoll(models.Model):
    """Every student of a school went up a grade. ``lines`` are kept to undo it, until the next year's.

    They hold, by the student's key, the grade before and after; None after for who left then.
    """

    school = models.ForeignKey(School, models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()  # in which that school year ends
    rolled_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    left_on = models.DateField()  # of those who left
    lines = models.JSONField(default=dict, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = GradeRollQuerySet.as_manager()

    class Meta:
        ordering = ["-rolled_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["school", "year"], condition=Q(undone_at=None), name="grades_once_a_year")
        ]

    def __str__(self) -> str:
        return f"{self.year - 1}–{self.year % 100:02d}"

    @property
    def left_count(self) -> int:
        return sum(after is None for _, after in self.lines.values())

    @property
    def up_count(self) -> int:
        return len(self.lines) - self.left_count
