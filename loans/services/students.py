"""Students: the least that a loan needs to know. Events about them hold ids, never names."""

from __future__ import annotations

from datetime import date, datetime
from typing import TypedDict
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.day_bounds import RECORDED
from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from loans.exceptions import StudentRefusedError
from loans.models import Student


class NewStudent(TypedDict):
    """A student who is not on the list yet, as typed."""

    name: str
    grade: str
    level: str
    guardian_name: str
    guardian_contact: str


@service(once="nonce")
def add_student(
    *,
    school: School,
    name: str,
    grade: str,
    actor: User,
    at: datetime,
    guardian_name: str = "",
    guardian_contact: str = "",
    level: str = "first_year",
    wants_kind: str = "",
    nonce: UUID | None = None,
) -> Student:
    """Add a student to the school's list. Two students may have the same name."""
    student = Student(
        school=school,
        **_tidy(name, grade, guardian_name, guardian_contact),
        level=level,
        wants_kind=wants_kind,
    )
    _check(student)
    student.save(force_insert=True)
    record_event(act="student_added", subject=student, tenant=school.pk)
    return student


@service
def change_student(
    *,
    student: Student,
    name: str,
    grade: str,
    guardian_name: str,
    guardian_contact: str,
    level: str,
    actor: User,
    at: datetime,
    wants_kind: str | None = None,
) -> Student:
    """Edit a student; the event names the changed columns, not their values.

    ``wants_kind`` None leaves it unchanged; "" means the student is not waiting.
    """
    fresh = lock_row(student)
    if fresh.erased_at is not None:
        raise StudentRefusedError(_("This student was erased and cannot be changed."))
    changed = save_columns(
        fresh,
        check=_check,
        **_tidy(name, grade, guardian_name, guardian_contact),
        level=level,
        wants_kind=fresh.wants_kind if wants_kind is None else wants_kind,
    )
    if changed:
        record_event(act="student_changed", subject=fresh, tenant=fresh.school_id, after={"columns": changed})
    return fresh


def _tidy(name: str, grade: str, guardian_name: str, guardian_contact: str) -> dict[str, str]:
    """What was typed as it is kept: one space between the words of a name, none around the rest."""
    return {
        "name": " ".join(name.split()),
        "grade": grade.strip(),
        "guardian_name": " ".join(guardian_name.split()),
        "guardian_contact": guardian_contact.strip(),
    }


def _check(student: Student) -> None:
    check_row(student, names_columns=True, refusal=StudentRefusedError, validate_constraints=False)
    if student.wants_kind and student.wants_kind not in catalog().kinds:
        raise StudentRefusedError(_("That kind of instrument is not in the catalog."))


@service
def note_student_left(*, student: Student, left_on: date | None, actor: User, at: datetime) -> None:
    """Record that a student has left (or, with None, is back). Open loans stay open."""
    RECORDED.check(left_on, today=timezone.localdate(at))
    changed = Student.objects.filter(pk=student.pk, erased_at=None).exclude(left_on=left_on).update(left_on=left_on)
    act = "student_back" if left_on is None else "student_left"
    if changed:
        record_event(act=act, subject=student, tenant=student.school_id, after={"left_on": left_on})
