"""Who is to get which instrument: proposed by the rules, changed by the director, then locked."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, School, SchoolRowsQuerySet
from loans.models.people import Student
from loans.models.seats import ClassPeriod


class AssignmentQuerySet(SchoolRowsQuerySet["Assignment"]):
    way_to_school = "school"
    view_permission = "loans.assign"

    def locked(self) -> Self:
        return self.filter(state=Assignment.State.LOCKED)


class Assignment(models.Model):
    """One proposal for one school, with the seed and the weights it was solved by. Once locked it stays as it is."""

    class State(models.TextChoices):
        PROPOSED = "proposed", _("Proposed")
        LOCKED = "locked", _("Locked")
        DROPPED = "dropped", _("Dropped")

    school = models.ForeignKey(School, models.PROTECT, related_name="assignments")
    state = models.CharField(max_length=8, choices=State, default=State.PROPOSED)
    made_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    seed = models.BigIntegerField()  # which lots were drawn
    weights = models.JSONField(default=dict)  # the district's figures at the time
    excluded = models.JSONField(default=list, blank=True)  # keys of instruments that are left out
    revision = models.PositiveIntegerField(default=1)  # a change to what was not on the page is refused
    locked_at = models.DateTimeField(null=True, blank=True)
    locked_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = AssignmentQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["school"], condition=Q(state="locked"), name="assignment_one_locked")
        ]

    def __str__(self) -> str:
        return f"assignment {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.state == self.State.PROPOSED


class AssignmentLine(models.Model):
    """One student and one kind: the instrument, or none, and why. ``why`` holds codes, said by the rules' words."""

    assignment = models.ForeignKey(Assignment, models.PROTECT, related_name="lines")
    student = models.ForeignKey(Student, models.PROTECT, related_name="+")
    kind_code = models.CharField(max_length=40)
    size = models.CharField(max_length=8, blank=True)
    level = models.CharField(max_length=16, blank=True)
    period = models.ForeignKey(ClassPeriod, models.PROTECT, null=True, blank=True, related_name="+")
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="+")
    why = models.JSONField(default=list, blank=True)  # [{"code", "points", "number"}]
    is_fixed = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["assignment", "student", "kind_code"], name="assignment_line_once"),
            models.UniqueConstraint(
                fields=["assignment", "instrument"],
                condition=Q(instrument__isnull=False),
                name="assignment_instrument_once",
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.pk} of assignment {self.assignment_id}"

    @property
    def kind_name(self) -> str:
        return catalog().kind(self.kind_code).name

    @property
    def key(self) -> str:
        """How the rules know the wish."""
        return wish_key(self.student_id, self.kind_code)

    @property
    def facts(self) -> dict[str, Any]:
        """What an event says of the line: keys and codes alone."""
        return {"line": self.pk, "student": self.student_id, "instrument": self.instrument_id}


def wish_key(student: int, kind: str) -> str:
    return f"{student}:{kind}"
