"""Who may borrow, who has what, and whose names a user may see."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Q, QuerySet

from inventory.models import Instrument, School, schools_of
from loans.models import Loan, Student


def schools_with_names(user: Any) -> frozenset[int]:
    """Return the schools whose students' names the user may see; elsewhere a loan is shown without the name."""
    return frozenset(schools_of(user, "loans.view_student_name").values_list("pk", flat=True))


def open_loan_of(instrument: Instrument) -> Loan | None:
    """Return the open loan of an instrument, or None."""
    return Loan.objects.open().for_table().select_related("hand_out").filter(instrument=instrument).first()


def students_of(school: School) -> QuerySet[Student]:
    """Return the students who can borrow, annotated with ``out``, how many instruments each has now."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=Q(loans__returned_at=None)))
        .order_by("name", "pk")
    )


def loans_of(student: Student) -> QuerySet[Loan]:
    """Return every loan of the student, newest first."""
    return student.loans.for_table().order_by("-lent_at", "-pk")
