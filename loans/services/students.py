"""Students: the least that a loan needs to know. Events about them hold ids, never names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any, NotRequired, TypedDict
from uuid import UUID

from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from loans.exceptions import StudentRefusedError
from loans.models import Guardian, Student


@dataclass(frozen=True, slots=True)
class NewGuardian:
    """Whom to write to and to call, as typed or imported. Without name and contact, nobody."""

    name: str = ""
    email: str = ""
    phone: str = ""
    contact: str = ""  # any other way to reach them
    address: str = ""  # where letters are mailed, in lines
    language: str = Guardian.Language.ENGLISH
    sourced_id: str = ""

    @property
    def is_somebody(self) -> bool:
        return any((self.name, self.email, self.phone, self.contact, self.address))


def guardian_given(row: Guardian) -> NewGuardian:
    """Return a guardian as the services take one."""
    return NewGuardian(**{column.name: getattr(row, column.name) for column in fields(NewGuardian)})


class NewStudent(TypedDict):
    """A student who is not on the list yet, as typed."""

    name: str
    grade: str
    level: str
    guardians: Sequence[NewGuardian]
    who: NotRequired[str]


@service(once="nonce")
def add_student(
    *,
    school: School,
    name: str,
    actor: User | None,
    at: datetime,
    grade: str = "",
    guardians: Sequence[NewGuardian] = (),
    level: str = "first_year",
    wants_kind: str = "",
    who: str = Student.Who.STUDENT,
    sort_name: str = "",
    number: str = "",
    sourced_id: str = "",
    is_private: bool = False,
    nonce: UUID | None = None,
) -> Student:
    """Add whoever borrows to the school's list. Two students may have the same name.

    ``guardians`` in the order in which they are written to. Without ``sort_name``, lists sort by the last word of the
    name. A member of staff or a group has no grade and no guardian.
    """
    student = Student(
        school=school,
        level=level,
        wants_kind=wants_kind,
        is_private=is_private,
        **_tidy(who=who, name=name, sort_name=sort_name, grade=grade, number=number, sourced_id=sourced_id),
    )
    _check(student)
    student.save(force_insert=True)
    after = _guardians_made(_set_guardians(student, guardians, there=[], at=at))
    record_event(act="student_added", subject=student, tenant=school.pk, after=after)
    return student


@service
def change_student(
    *,
    student: Student,
    name: str,
    grade: str,
    level: str,
    actor: User | None,
    at: datetime,
    guardians: Sequence[NewGuardian] | None = None,
    wants_kind: str | None = None,
    who: str | None = None,
    sort_name: str | None = None,
    number: str | None = None,
    sourced_id: str | None = None,
    is_private: bool | None = None,
) -> Student:
    """Edit a student; the event names the changed columns, not their values.

    What is None is left unchanged; ``sort_name`` None follows the name unless somebody gave another. ``wants_kind`` ""
    means the student is not waiting.
    """
    fresh = lock_row(student)
    if fresh.erased_at is not None:
        raise StudentRefusedError(_("This student was erased and cannot be changed."))
    if sort_name is None and fresh.sort_name != fresh.usual_sort_name:
        sort_name = fresh.sort_name
    values: dict[str, Any] = {
        "who": who,
        "number": number,
        "sourced_id": sourced_id,
        "wants_kind": wants_kind,
        "is_private": is_private,
    }
    columns: dict[str, Any] = {
        column: getattr(fresh, column) if value is None else value for column, value in values.items()
    }
    columns |= _tidy(
        who=columns["who"],
        name=name,
        sort_name=sort_name or "",
        grade=grade,
        number=columns["number"],
        sourced_id=columns["sourced_id"],
    )
    changed = save_columns(fresh, check=_check, level=level, **columns)
    if guardians is None and not fresh.has_guardians:
        guardians = ()
    there = [] if guardians is None else list(Guardian.places.filter(student=fresh).order_by("place"))
    made = None if guardians is None else _set_guardians(fresh, guardians, there=there, at=at)
    if made is not None:
        changed.append("guardians")
    if changed:
        after = {"columns": changed, **_guardians_made(made)}
        record_event(act="student_changed", subject=fresh, tenant=fresh.school_id, after=after)
    return fresh


def _guardians_made(made: list[int] | None) -> dict[str, list[int]]:
    return {"guardians": made} if made else {}


def _tidy(*, who: str, name: str, sort_name: str, grade: str, number: str, sourced_id: str) -> dict[str, str]:
    """What was typed as it is kept: one space between the words of a name, none around the rest."""
    name = " ".join(name.split())
    return {
        "who": who,
        "name": name,
        "sort_name": " ".join(sort_name.split()) or Student(who=who, name=name).usual_sort_name,
        "grade": grade.strip() if who == Student.Who.STUDENT else "",
        "number": number.strip(),
        "sourced_id": sourced_id.strip(),
    }


def _check(student: Student) -> None:
    check_row(student, names_columns=True, refusal=StudentRefusedError, validate_constraints=False)
    if student.has_guardians and not student.grade and not student.sourced_id:  # rosters need not tell it
        raise StudentRefusedError(_("Enter the student's grade."))
    if student.wants_kind and student.wants_kind not in catalog().kinds:
        raise StudentRefusedError(_("That kind of instrument is not in the catalog."))
    others = Student.objects.filter(school=student.school_id).exclude(pk=student.pk)
    if student.number and others.filter(number=student.number).exists():
        raise StudentRefusedError(_("Another student at this school has this number."))
    if student.sourced_id and others.filter(sourced_id=student.sourced_id).exists():
        raise StudentRefusedError(_("Another student at this school has this roster identifier."))


def _set_guardians(
    student: Student, guardians: Sequence[NewGuardian], *, there: Sequence[Guardian], at: datetime
) -> list[int] | None:
    """Write the guardians over those ``there``, and empty the places left over; return the keys of new rows.

    None if nothing changed.
    """
    tidy = [one for one in map(_tidy_guardian, guardians) if one.is_somebody]
    if tidy and not student.has_guardians:
        raise StudentRefusedError(_("Only a student has a guardian."))
    made: list[int] = []
    is_changed = False
    for place, one in enumerate([*tidy, *[NewGuardian()] * (len(there) - len(tidy))], start=1):
        row = there[place - 1] if place <= len(there) else Guardian(student=student, place=place)
        before = None if row._state.adding else guardian_given(row)
        if before == one:
            continue
        if before is not None and row.email != one.email:
            row.mail_came_back, row.email_since = False, at
        for name, value in asdict(one).items():
            setattr(row, name, value)
        check_row(row, names_columns=True, refusal=StudentRefusedError, validate_constraints=False)
        row.save()
        is_changed = True
        if before is None:
            made.append(row.pk)
    return made if is_changed else None


def _tidy_guardian(one: NewGuardian) -> NewGuardian:
    tidy = {name: " ".join(str(value).split()) for name, value in asdict(one).items()}
    lines = (" ".join(line.split()) for line in one.address.splitlines())
    return NewGuardian(**tidy | {"address": "\n".join(filter(None, lines))})


@service
def note_copy(*, student: Student, actor: User, at: datetime) -> None:
    """Log that a copy of everything held on the student was made, for a guardian who asked for it."""
    record_event(act="copy_made", subject=student, tenant=student.school_id)
