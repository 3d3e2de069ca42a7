"""Reads for matching instruments with students."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from desk.selectors.lending import may_be_lent
from inventory.catalog.load import catalog
from inventory.models import Instrument, School
from loans.models import Loan, Student


class Borrower(NamedTuple):
    """What is said of a student; a school may have thousands."""

    pk: int
    name: str
    grade: str


def students_by_level(school: School) -> dict[str, list[Borrower]]:
    """Level -> the school's students at it, by name. One query."""
    found: dict[str, list[Borrower]] = {}
    rows = Student.objects.current().filter(school=school, who=Student.Who.STUDENT).order_by("sort_name", "pk")
    for level, pk, name, grade in rows.values_list("level", "pk", "name", "grade"):
        found.setdefault(level, []).append(Borrower(pk, name, grade))
    return found


def loans_by_student(school: School) -> dict[int, list[tuple[str, str]]]:
    """Student -> (asset number, kind) of what each student of a school has out. One query."""
    # By a list of students, or SQLite reads every open loan of the district to find those of one school.
    students = Student.objects.filter(school=school).values("pk")
    rows = Loan.objects.open().filter(student__in=students).order_by("lent_at")
    found: dict[int, list[tuple[str, str]]] = {}
    for student, number, kind in rows.values_list("student_id", "instrument__asset_number", "instrument__kind_code"):
        found.setdefault(student, []).append((number, kind))
    return found


def play_test_limits(instrument: Instrument) -> str:
    """What the latest play test, if it passed with limits, says in its own words."""
    latest = instrument.play_tests.first()
    return latest.limits_text if latest is not None and latest.result == "limits" else ""


def ready_instruments(school: School, *, today: date) -> list[Instrument]:
    """What may be lent today, by asset number."""
    return list(may_be_lent(today=today).filter(school=school).for_table().order_by("asset_number"))


def kind_for(student: Student, *, wanted: str) -> str:
    """The kind asked for if there is one, else the kind the student borrowed last, else ""."""
    if wanted in catalog().kinds:
        return wanted
    return (
        student.loans.not_undone().order_by("-lent_at", "-pk").values_list("instrument__kind_code", flat=True).first()
        or ""
    )
