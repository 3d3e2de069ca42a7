"""Who has the instruments that are out, for the register (inventory/selectors/holders.py)."""

from __future__ import annotations

from collections.abc import Collection, Hashable
from datetime import date
from typing import Any

from django.db.models import Q

from inventory.models import schools_of
from inventory.selectors.holders import Holder, Holders
from inventory.selectors.school_sums import SchoolSums
from loans.models import Loan
from loans.selectors.lending import schools_with_names


def _grades(schools: Collection[int], _today: date, _variant: Hashable) -> dict[int, frozenset[str]]:
    """The grades that have something out from each of the schools. One query."""
    found: dict[int, set[str]] = {pk: set() for pk in schools}
    rows = Loan.objects.open().filter(school__in=schools).exclude(student__grade="")
    for school, grade in rows.order_by().values_list("school", "student__grade").distinct():
        found[school].add(grade)
    return {pk: frozenset(grades) for pk, grades in found.items()}


_grades_of = SchoolSums(_grades)


class Borrowers(Holders):
    """Names and grades are said, and asked for, at those schools only whose students' names the user may see."""

    def of(self, user: Any, keys: Collection[int]) -> dict[int, Holder]:
        named = schools_with_names(user)
        rows = Loan.objects.visible_to(user).open().filter(instrument__in=keys).select_related("student")
        return {
            loan.instrument_id: Holder(
                name=loan.student.name if loan.school_id in named else "",
                grade=loan.student.grade if loan.school_id in named else "",
                due_on=loan.due_on,
                loan=loan.pk,
            )
            for loan in rows
        }

    def in_grade(self, user: Any, grade: str) -> Q:
        loans = Loan.objects.open().filter(school__in=schools_with_names(user), student__grade=grade)
        return Q(pk__in=loans.order_by().values("instrument"))

    def grades(self, user: Any, *, today: date) -> list[str]:
        schools = schools_of(user, "loans.view_student_name")
        found = frozenset().union(*_grades_of.of(schools, today=today).values())
        return sorted(found, key=lambda grade: (not grade.isdigit(), int(grade) if grade.isdigit() else 0, grade))
