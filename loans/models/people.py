"""Who borrows."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.models import School, SchoolRowsQuerySet


class StudentQuerySet(SchoolRowsQuerySet["Student"]):
    way_to_school = "school"
    view_permission = "loans.view_student"

    def current(self) -> Self:
        return self.filter(erased_at=None, left_on=None)

    def waiting(self) -> Self:
        """Return current students who want a kind of instrument and have none."""
        from loans.models.lending import Loan  # loans stand above people

        out = Loan.objects.open().filter(student=OuterRef("pk"))
        return self.current().exclude(wants_kind="").filter(~Exists(out))


class Student(models.Model):
    """The least that a loan needs to know. Once erased, the loan rows stay without the name."""

    school = models.ForeignKey(School, models.PROTECT, related_name="students")
    name = models.CharField(max_length=120)
    grade = models.CharField(max_length=10)
    guardian_name = models.CharField(max_length=120, blank=True)
    guardian_contact = models.CharField(max_length=200, blank=True)
    level = models.CharField(
        max_length=16, default="first_year"
    )  # catalog level: first_year, second_year, concert, marching
    wants_kind = models.CharField(_("waiting for"), max_length=40, blank=True)  # kind code; "" if not waiting
    left_on = models.DateField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = StudentQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [
            models.Index(fields=["wants_kind", "school"], name="student_wants"),
            models.Index(fields=["name"], name="student_name"),
        ]

    def __str__(self) -> str:
        return self.name or gettext("erased")

    @property
    def waits_for(self) -> str:
        """Return the name of the kind the student waits for, or ""."""
        kind = catalog().kinds.get(self.wants_kind)
        return kind.name if kind else ""
