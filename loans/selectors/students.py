"""Reads of students."""

from __future__ import annotations

from inventory.models import School
from loans.models import Student, StudentQuerySet
from loans.rules.matching import Known, match_person, person_key


def students_of(school: School) -> StudentQuerySet:
    """Return the students who can borrow, with ``out``, how many instruments each has now, and ``guardian_name``."""
    return Student.objects.current().filter(school=school).with_out().with_guardian().order_by("sort_name", "pk")


def namesakes_of(student: Student) -> StudentQuerySet:
    """Return the school's other students who may be the same: with the family name, or a name like it."""
    others = Student.objects.current().filter(school=student.school_id, who=student.who).exclude(pk=student.pk)
    known = [Known(pk, name, "") for pk, name in others.order_by("pk").values_list("pk", "name")]
    match = match_person(student.name, grade="", known=known)
    family = person_key(student.name).split()[-1:]
    same = [one.pk for one in known if person_key(one.name).split()[-1:] == family]
    return Student.objects.filter(pk__in={*match.exact, *match.like, *same}).order_by("sort_name", "pk")
