"""Reads of students."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet

from inventory.models import (
    School,
)
from loans.models import Student


def students_of(school: School) -> QuerySet[Student]:
    """Return the students who can borrow, annotated with ``out``, how many instruments each has now."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=Q(loans__returned_at=None)))
        .order_by("name", "pk")
    )
