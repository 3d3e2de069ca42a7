"""Reads of students."""

from __future__ import annotations

from django.db.models import Count

from inventory.models import School
from loans.models import Student, StudentQuerySet, open_loans_by


def students_of(school: School) -> StudentQuerySet:
    """Return the students who can borrow, with ``out``, how many instruments each has now, and ``guardian_name``."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=open_loans_by("loans__")))
        .with_guardian()
        .order_by("sort_name", "pk")
    )
