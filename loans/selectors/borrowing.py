"""Who may borrow, who has what, and whose names somebody may read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Count, Q, QuerySet

from inventory.models import Instrument, School, schools_of
from loans.models import Loan, Student


def schools_with_names(user: Any) -> frozenset[int]:
    """The schools whose students' names the user may read; elsewhere a loan is shown without the name."""
    return frozenset(schools_of(user, "loans.view_student_name").values_list("pk", flat=True))


def open_loan_of(instrument: Instrument) -> Loan | None:
    """The loan that it is out on, if it is out."""
    return Loan.objects.open().for_table().select_related("hand_out").filter(instrument=instrument).first()


def students_of(school: School) -> QuerySet[Student]:
    """Who can be lent to, with ``out`` as the number of instruments each has now."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=Q(loans__returned_at=None)))
        .order_by("name", "pk")
    )


def history_of(student: Student) -> Sequence[Loan]:
    """Every loan of the student, newest first."""
    return list(student.loans.for_table().order_by("-lent_at", "-pk"))
