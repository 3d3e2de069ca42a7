"""A roster comes in: all of it or nothing, and a second time nothing changes. Events hold keys and counts, no names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_name, service
from core.events import record_event
from core.models import User
from core.traces import as_left
from inventory.models import School
from loans.exceptions import RosterRefusedError
from loans.models import ClassPeriod, RosterChoice, Seat, Student
from loans.rules.roster import Changes, Coming, Person, Roster, changes_of
from loans.selectors.roster import class_differs, class_name, is_class_gone, people_of, place_of
from loans.services.leaving import let_students_leave, note_on_roster, note_student_left
from loans.services.seats import add_period, change_period, end_seats, seat_students
from loans.services.students import NewGuardian, add_student, change_student


class SchoolRoster(NamedTuple):
    """What was read for one school; ``answers`` as in ``changes_of``, ``courses`` to remember as chosen."""

    school: School
    roster: Roster
    answers: Mapping[str, int] | None = None
    courses: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Imported:
    new: int = 0
    changed: int = 0
    left: int = 0
    flagged: int = 0


@service
def choose_courses(*, school: School, courses: Mapping[str, str], actor: User | None, at: datetime) -> None:
    """Take students of these courses (sourcedId -> title) from now on, and of no others."""
    lock_name(f"roster {school.pk}")
    there = {row.sourced_id: row for row in RosterChoice.objects.filter(school=school).order_by("pk")}
    for sourced_id, title in courses.items():
        if sourced_id not in there:
            row = RosterChoice.objects.create(school=school, sourced_id=sourced_id, title=title[:200])
            record_event(act="roster_course_chosen", subject=row, tenant=school.pk, after=as_left(row, "is_taken"))
    for sourced_id, row in there.items():
        is_taken, title = sourced_id in courses, courses.get(sourced_id, "")[:200] or row.title
        if (row.is_taken, row.title) == (is_taken, title):
            continue
        row.is_taken, row.title = is_taken, title
        row.save(update_fields=["is_taken", "title"])
        record_event(act="roster_course_changed", subject=row, tenant=school.pk, after=as_left(row, "is_taken"))


@service
def import_rosters(*, rosters: Sequence[SchoolRoster], actor: User | None, at: datetime) -> list[Imported]:
    """Write what the rosters change at their schools, or raise RefusedError and write nothing."""
    return [_import(one, actor=actor, at=at) for one in rosters]


def _import(one: SchoolRoster, *, actor: User | None, at: datetime) -> Imported:
    lock_name(f"roster {one.school.pk}")
    if one.courses is not None:
        choose_courses(school=one.school, courses=one.courses, actor=actor, at=at)
    changes = changes_of(one.roster, people_of(one.school), answers=one.answers)
    if changes.problems:
        raise RosterRefusedError(changes.problems[0].sentence)
    if changes.twins:
        raise RosterRefusedError(
            _("Students of the same name are already here. Say for each whether it is the same person.")
        )
    writing = _Writing(one.school, one.roster, changes, actor=actor, at=at)
    result = writing.write()
    if not changes.is_nothing or writing.classes_changed:
        counts = {"new": result.new, "changed": result.changed, "left": result.left, "flagged": result.flagged}
        record_event(act="roster_imported", subject=one.school, tenant=one.school.pk, after=counts)
    return result


class _Writing:
    """One school's changes on their way into the rows."""

    def __init__(self, school: School, roster: Roster, changes: Changes, *, actor: User | None, at: datetime) -> None:
        self._school, self._roster, self._changes = school, roster, changes
        self._actor, self._at = actor, at
        self._today = timezone.localdate(at)
        self.classes_changed = 0

    def write(self) -> Imported:
        changes = self._changes
        students = Student.objects.in_bulk([*changes.known.values(), *(one.person.pk for one in changes.changed)])
        periods = {row.sourced_id: row for row in ClassPeriod.objects.filter(school=self._school)}
        self._free_numbers()
        for coming in changes.changed:
            self._change(students[coming.person.pk], coming)
        keys = dict(changes.known)
        for coming in changes.new:
            student = self._add(coming.person)
            keys[coming.key] = student.pk
            students[student.pk] = student
        self._end(periods)
        gone = let_students_leave(
            students=[*changes.left, *changes.newly_flagged],
            left_on=self._today,
            by_roster=True,
            actor=self._actor,
            at=self._at,
        )
        self._write_classes(periods)
        self._join(periods, {key: students[pk] for key, pk in keys.items() if pk in students})
        return Imported(len(changes.new), len(changes.changed), gone.left, gone.flagged)

    # Students

    def _add(self, person: Person) -> Student:
        return add_student(
            school=self._school,
            name=person.name,
            sort_name=person.sort_name,
            grade=person.grade,
            number=person.number,
            sourced_id=person.sourced_id,
            guardians=_guardians(person),
            actor=self._actor,
            at=self._at,
        )

    def _free_numbers(self) -> None:
        """Take away numbers that will change, so that two students can exchange theirs."""
        changing = [one.person.pk for one in self._changes.changed if {"number", "sourced_id"} & set(one.changed)]
        Student.objects.filter(pk__in=changing).update(number="", sourced_id="")

    def _change(self, student: Student, coming: Coming) -> None:
        person = coming.person
        if coming.changed:
            change_student(
                student=student,
                name=person.name,
                sort_name=person.sort_name,
                grade=person.grade,
                number=person.number,
                sourced_id=person.sourced_id,
                level=student.level,
                guardians=_guardians(person) if "guardians" in coming.changed else None,
                actor=self._actor,
                at=self._at,
            )
        if coming.is_back:
            note_student_left(student=student, left_on=None, actor=self._actor, at=self._at)
            note_on_roster(student=student)
            student.left_on = None

    # Classes

    def _write_classes(self, periods: dict[str, ClassPeriod]) -> None:
        by: dict[str, Any] = {"actor": self._actor, "at": self._at}
        for key, row in self._roster.classes.items():
            name, place, period = class_name(row), place_of(row), periods.get(key)
            if period is None:
                periods[key] = add_period(school=self._school, name=name, place=place, sourced_id=key, **by)
            elif class_differs(period, row):
                change_period(period=period, name=name, place=place, ensemble=period.ensemble, is_active=True, **by)
            else:
                continue
            self.classes_changed += 1
        for key, period in periods.items():
            if key and period.is_active and is_class_gone(key, self._roster):
                change_period(
                    period=period, name=period.name, place=period.place, ensemble=period.ensemble, is_active=False, **by
                )  # fmt: skip
                self.classes_changed += 1

    def _end(self, periods: Mapping[str, ClassPeriod]) -> None:
        gone = defaultdict[str, list[int]](list)
        for pk, group in self._changes.ends:
            gone[group].append(pk)
        for group, students in gone.items():
            seats = Seat.objects.filter(period=periods[group], student__in=students, until=None)
            end_seats(
                place=periods[group], seats=list(seats.values_list("pk", flat=True)), actor=self._actor, at=self._at
            )

    def _join(self, periods: Mapping[str, ClassPeriod], students: Mapping[str, Student]) -> None:
        coming = defaultdict[str, list[Student]](list)
        for key, group in self._changes.joins:
            if group in periods and key in students:
                coming[group].append(students[key])
        for group, some in coming.items():
            seat_students(place=periods[group], students=some, actor=self._actor, at=self._at)


def _guardians(person: Person) -> list[NewGuardian]:
    return [NewGuardian(**asdict(one)) for one in person.guardians]
