"""Whose grades go up, and whether they have this year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import School
from loans.models import GradeRoll, Student, StudentQuerySet
from loans.rules.grades import grade_number, in_order, next_grade


@dataclass(frozen=True, slots=True)
class GradeLine:
    """The students of one grade; ``goes_to`` is the next one, "" where there is none. ``leaves``: proposed."""

    grade: str
    students: Sequence[Student]
    goes_to: str
    leaves: bool


def rolled_students(school: School) -> StudentQuerySet:
    """Return the school's students, without who left or is no longer on the roster, and without staff and groups."""
    return Student.objects.current().filter(school=school, who=Student.Who.STUDENT, off_roster_on=None)


def grade_lines(school: School) -> list[GradeLine]:
    """Return the grades from the lowest up with their students; those of the highest are proposed as leaving."""
    by_grade: dict[str, list[Student]] = {}
    for student in rolled_students(school).with_out().order_by("sort_name", "pk"):
        by_grade.setdefault(student.grade, []).append(student)
    order = in_order(by_grade)
    highest = max((grade for grade in order if grade_number(grade) is not None), key=_number, default=None)
    return [GradeLine(grade, by_grade[grade], next_grade(grade), leaves=grade == highest) for grade in order]


def _number(grade: str) -> int:
    return grade_number(grade) or 0


def roll_of(school: School, *, year: int) -> GradeRoll | None:
    """Return how the school's grades went up for the school year that ends in ``year``, or None."""
    return GradeRoll.objects.filter(school=school, year=year, undone_at=None).select_related("actor").first()
