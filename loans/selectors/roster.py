"""What is kept of a school's roster: chosen courses, and the people an earlier one brought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from inventory.models import School
from loans.models import ClassPeriod, Guardian, Loan, RosterChoice, Seat, Student
from loans.rules.roster import (
    BULK,
    Changes,
    Checked,
    ClassRow,
    Person,
    PersonGuardian,
    Place,
    Problem,
    Roster,
    Source,
    changes_of,
    orgs_of_classes,
    places_of,
    read_people,
    titles_of_courses,
)

USERS: Final = "users.csv"
LONGEST_CLASS: Final = 80


@dataclass(frozen=True, slots=True)
class SchoolChanges:
    """What a roster would change at one school; ``people`` are those who are here, by key."""

    school: School
    roster: Roster
    changes: Changes
    people: Mapping[int, Person]
    new_classes: int = 0
    changed_classes: int = 0
    left_classes: int = 0

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What stands in the way, students of the same name among it, of whom somebody has to say who they are."""
        reason = _(
            "A student of the same name is already here, without a sourcedId. Say on the Roster page whether it is the same one."
        )
        return (
            *self.changes.problems,
            *(Problem(USERS, twin.row, "familyName", reason) for twin in self.changes.twins),
        )

    @property
    def is_nothing(self) -> bool:
        classes = self.new_classes + self.changed_classes + self.left_classes
        return self.changes.is_nothing and not classes and not self.changes.twins

    @property
    def sums(self) -> tuple[tuple[str, int, int, int], ...]:
        """File, then how many of it are new, changed and left."""
        changes = self.changes
        left = len(changes.left) + len(changes.newly_flagged)
        return (
            (USERS, len(changes.new) + changes.new_guardians, len(changes.changed), left),
            ("classes.csv", self.new_classes, self.changed_classes, self.left_classes),
            ("enrollments.csv", len(changes.joins), 0, len(changes.ends)),
        )

    @property
    def summary(self) -> str:
        changes = self.changes
        words = _(
            "%(new)d new, %(changed)d changed, %(same)d as before, %(left)d left, %(flagged)d left with an instrument out."
        )
        return words % {
            "new": len(changes.new),
            "changed": len(changes.changed),
            "same": changes.same,
            "left": len(changes.left),
            "flagged": len(changes.flagged),
        }


def taken_courses(school: School) -> dict[str, str]:
    """Return the chosen courses, sourcedId -> title."""
    return dict(RosterChoice.objects.taken().filter(school=school).values_list("sourced_id", "title"))


def people_of(school: School) -> list[Person]:
    """Return the students of a school as a roster is held against them."""
    guardians = defaultdict[int, list[PersonGuardian]](list)
    rows = Guardian.objects.filter(student__school=school, student__erased_at=None).order_by("student", "place")
    for student, *facts in rows.values_list("student_id", *PersonGuardian.__dataclass_fields__):
        guardians[student].append(PersonGuardian(*facts))
    groups = defaultdict[int, set[str]](set)
    seats = Seat.objects.filter(until=None, period__school=school).exclude(period__sourced_id="")
    for student, group in seats.values_list("student_id", "period__sourced_id"):
        groups[student].add(group)
    out = set(Loan.objects.open().filter(student__school=school).values_list("student_id", flat=True))
    students = Student.objects.filter(school=school, who=Student.Who.STUDENT, erased_at=None).order_by("pk")
    students = students.exclude(merged_into__isnull=False, sourced_id="", number="")  # its other record has them
    return [
        Person(
            pk=row.pk,
            name=row.name,
            sort_name=row.sort_name,
            number=row.number,
            grade=row.grade,
            sourced_id=row.sourced_id,
            guardians=tuple(guardians[row.pk]),
            has_left=row.left_on is not None,
            is_off=row.off_roster_on is not None,
            is_out=row.pk in out,
            classes=frozenset(groups[row.pk]),
        )
        for row in students
    ]


def school_changes(
    *,
    school: School,
    source: Source,
    checked: Checked,
    courses: Collection[str],
    orgs: Collection[str] | None,
    today: date,
    answers: dict[str, int] | None = None,
) -> SchoolChanges:
    """Read the people of the courses and say what would change; nothing is written."""
    people = people_of(school)
    periods = {period.sourced_id: period for period in ClassPeriod.objects.filter(school=school).exclude(sourced_id="")}
    known = {one.sourced_id for one in people} | {one.sourced_id for person in people for one in person.guardians}
    roster = read_people(
        source,
        checked,
        courses=courses,
        today=today,
        orgs=orgs,
        known_classes={key for key, period in periods.items() if period.is_active},
        known_people=known - {""},
    )
    changes = changes_of(roster, people, answers=answers)
    changed = [key for key, one in roster.classes.items() if key in periods and class_differs(periods[key], one)]
    left = [key for key, period in periods.items() if period.is_active and is_class_gone(key, roster)]
    return SchoolChanges(
        school=school,
        roster=roster,
        changes=changes,
        people={person.pk: person for person in people},
        new_classes=len(roster.classes.keys() - periods.keys()),
        changed_classes=len(changed),
        left_classes=len(left),
    )


def list_changes(*, school: School, roster: Roster, problems: tuple[Problem, ...]) -> SchoolChanges:
    """Say what a plain list would change; ``problems`` are those of its rows."""
    people = people_of(school)
    changes = changes_of(roster, people)
    changes.problems = problems + changes.problems
    return SchoolChanges(school, roster, changes, people={person.pk: person for person in people})


def place_of(row: ClassRow) -> int:
    """Return the class's place in the day, 1 where the roster does not say."""
    first = row.periods.partition(",")[0].strip()
    return int(first) if first.isdecimal() and len(first) < len("100") else 1


def class_differs(period: ClassPeriod, row: ClassRow) -> bool:
    return (period.name, period.place, period.is_active) != (class_name(row), place_of(row), True)


def class_name(row: ClassRow) -> str:
    return (row.title or row.code)[:LONGEST_CLASS].strip()


def codes_of(places: Mapping[str, Place]) -> dict[str, set[str]]:
    """Return the schools of a roster by the code they may have here: their identifier, else their sourcedId."""
    codes = defaultdict[str, set[str]](set)
    for place in places.values():
        if place.is_school:
            codes[(place.identifier or place.sourced_id).upper()].add(place.sourced_id)
    return dict(codes)


def strange_courses(source: Source, checked: Checked, *, courses: Collection[str]) -> tuple[Problem, ...]:
    """Return a problem for each chosen course that a whole roster does not have: its students would all have left."""
    if checked.modes.get("courses") != BULK:
        return ()
    reason = _("The chosen course “%(course)s” is not there. Choose the courses again.")
    return tuple(
        Problem("courses.csv", None, "sourcedId", reason % {"course": course})
        for course in sorted(set(courses) - titles_of_courses(source, checked).keys())
    )


def strange_orgs(
    source: Source, checked: Checked, *, courses: Collection[str], codes: Collection[str]
) -> tuple[Problem, ...]:
    """Return a problem for each organization that teaches a chosen course and is no school here."""
    here = {org for code, orgs in codes_of(places_of(source, checked)).items() if code in codes for org in orgs}
    reason = _("No school here has the identifier or sourcedId of this organization as its code.")
    return tuple(
        Problem("classes.csv", row, "schoolSourcedId", reason)
        for org, row in orgs_of_classes(source, checked, courses=courses).items()
        if org not in here
    )


def is_class_gone(key: str, roster: Roster) -> bool:
    return key in roster.gone_classes or (roster.is_bulk and key not in roster.classes)
