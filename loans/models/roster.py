"""Which courses of the district's roster a school's program takes students from."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils.translation import gettext

from inventory.models import School, SchoolRowsQuerySet


class RosterChoiceQuerySet(SchoolRowsQuerySet["RosterChoice"]):
    way_to_school = "school"
    view_permission = "loans.change_student"

    def taken(self) -> Self:
        return self.filter(is_taken=True)


class RosterChoice(models.Model):
    """A course that the school has chosen, or had: only students of chosen courses are ever read in."""

    school = models.ForeignKey(School, models.PROTECT, related_name="roster_choices")
    sourced_id = models.CharField(max_length=255)  # of the course
    title = models.CharField(max_length=200, blank=True)
    is_taken = models.BooleanField(default=True)

    objects = RosterChoiceQuerySet.as_manager()

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["school", "sourced_id"], name="roster_choice_once"),
        ]

    def __str__(self) -> str:
        return self.title or gettext("a course without a title")
