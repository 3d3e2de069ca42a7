"""The people an imported list names, and whom of the school's students they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from core.models import User
from inventory.catalog.load import catalog
from inventory.columns import NOBODY
from inventory.models import ImportBatch, ImportRow
from loans.models import Student
from loans.rules.matching import Known, Match, match_person, person_key, tidy_name

LONGEST_GRADE = 10
NO_GRADE = "?"


@dataclass(frozen=True, slots=True)
class Out:
    """One row whose instrument somebody has."""

    row: int
    number: str
    kind: str
    since: date | None
    due_on: date | None


@dataclass(slots=True)
class Person:
    """Somebody of the list with all that they have."""

    key: str  # of the field that asks who it is
    name: str
    grade: str
    school: str  # code
    match: Match = field(default_factory=Match)
    out: list[Out] = field(default_factory=list)
    students: list[Student] = field(default_factory=list)  # whom it may be, the likeliest first

    @property
    def kept_grade(self) -> str:
        return self.grade or NO_GRADE


def people_in(batch: ImportBatch, *, user: User) -> list[Person]:
    """Everybody whom the new rows name, once each, in the order of the list. Two queries."""
    people: dict[tuple[str, str, str], Person] = {}
    for row, name in _named(batch):
        values = row.values
        grade = str(values.get("student_grade", ""))[:LONGEST_GRADE]
        key = (values["school"], person_key(name), grade)
        person = people.setdefault(key, Person(f"who-{row.number}", tidy_name(name), grade, values["school"]))
        kind = catalog().kinds.get(values["kind"])
        days = [date.fromisoformat(values[day]) if day in values else None for day in ("out_since", "due_on")]
        person.out.append(Out(row.number, values.get("asset_number", ""), kind.name if kind else "", *days))
    students = _students({person.school for person in people.values()}, user=user)
    for person in people.values():
        mine = students.get(person.school, {})
        known = [Known(one.pk, one.name, one.grade) for one in mine.values()]
        person.match = match_person(person.name, grade=person.grade, known=known)
        person.students = [mine[pk] for pk in (*person.match.exact, *person.match.like)]
    return list(people.values())


def _named(batch: ImportBatch) -> Iterator[tuple[ImportRow, str]]:
    for row in batch.rows.filter(state=ImportRow.State.NEW).order_by("number"):
        values = row.values
        parts = (values.get("student_first", ""), values.get("student_last", ""))
        name = values.get("student") or " ".join(filter(None, parts))
        if person_key(name) and " ".join(name.casefold().split()) not in NOBODY:
            yield row, name


def _students(schools: set[str], *, user: User) -> dict[str, dict[int, Student]]:
    found: dict[str, dict[int, Student]] = {}
    rows = Student.objects.visible_to(user).current().filter(school__code__in=schools).select_related("school")
    for one in rows.order_by("sort_name", "pk"):
        found.setdefault(one.school.code, {})[one.pk] = one
    return found
