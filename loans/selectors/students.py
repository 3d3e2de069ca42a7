"""Reads of students."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from django.db.models import Case, When

from inventory.models import School
from loans.models import Loan, Student, StudentQuerySet
from loans.rules.matching import Known, match_person, person_key


def students_of(school: School) -> StudentQuerySet:
    """Return the students who can borrow, with ``out``, how many instruments each has now, and ``guardian_name``."""
    return Student.objects.current().filter(school=school).with_out().with_guardian().order_by("sort_name", "pk")


def leavers_listed(school: School) -> StudentQuerySet:
    """Return the students who may be said to leave, with ``out``: first those flagged who have brought it all back."""
    rows = Student.objects.current().filter(school=school, who=Student.Who.STUDENT).with_out()
    is_done = Case(When(off_roster_on__isnull=False, out=0, then=0), default=1)
    return rows.annotate(place=is_done).order_by("place", "sort_name", "pk")


def held_by(students: Collection[Student]) -> dict[int, list[str]]:
    """Return by student's key the numbers of what is out. One query."""
    found = defaultdict[int, list[str]](list)
    rows = Loan.objects.open().filter(student__in=[one.pk for one in students]).order_by("lent_at", "pk")
    for student, number in rows.values_list("student_id", "instrument__asset_number"):
        found[student].append(number)
    return dict(found)


def namesakes_of(student: Student) -> StudentQuerySet:
    """Return the school's other students who may be the same: with the family name, or a name like it."""
    others = Student.objects.current().filter(school=student.school_id, who=student.who).exclude(pk=student.pk)
    known = [Known(pk, name, "") for pk, name in others.order_by("pk").values_list("pk", "name")]
    match = match_person(student.name, grade="", known=known)
    family = person_key(student.name).split()[-1:]
    same = [one.pk for one in known if person_key(one.name).split()[-1:] == family]
    return Student.objects.filter(pk__in={*match.exact, *match.like, *same}).order_by("sort_name", "pk")
