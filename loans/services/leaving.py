"""Students who leave, and those who come back."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from typing import NamedTuple

from django.utils import timezone

from core.acts import service
from core.day_bounds import RECORDED
from core.events import record_event
from core.models import User
from loans.models import Loan, Student


class Gone(NamedTuple):
    left: int
    flagged: int


@service
def note_student_left(*, student: Student, left_on: date | None, actor: User | None, at: datetime) -> None:
    """Record that a student has left (or, with None, is back). Open loans stay open."""
    RECORDED.check(left_on, today=timezone.localdate(at))
    changed = Student.objects.filter(pk=student.pk, erased_at=None).exclude(left_on=left_on).update(left_on=left_on)
    act = "student_back" if left_on is None else "student_left"
    if changed:
        record_event(act=act, subject=student, tenant=student.school_id, after={"left_on": left_on})


@service
def let_students_leave(
    *, students: Collection[int], left_on: date, actor: User | None, at: datetime, by_roster: bool = False
) -> Gone:
    """Note who left, by their keys. A student who has an instrument out stays on the list and is flagged until it is back.

    ``by_roster``: the roster no longer has them, so that a later one may bring them back.
    """
    RECORDED.check(left_on, today=timezone.localdate(at))
    left = flagged = 0
    here = Student.objects.filter(pk__in=students, left_on=None, erased_at=None).order_by("pk")
    rows = list(here.select_for_update(no_key=True))  # lending waits for these rows too
    out = set(Loan.objects.open().filter(student__in=rows).values_list("student", flat=True))
    for student in rows:
        has_out = student.pk in out
        if (has_out or by_roster) and student.off_roster_on is None:
            _note_off(student, on=left_on)
            flagged += has_out
        if not has_out:
            note_student_left(student=student, left_on=left_on, actor=actor, at=at)
            left += 1
    return Gone(left, flagged)


def _note_off(student: Student, *, on: date) -> None:
    Student.objects.filter(pk=student.pk).update(off_roster_on=on)
    record_event(act="student_off_roster", subject=student, tenant=student.school_id, after={"off_roster_on": on})


def note_on_roster(*, student: Student) -> None:
    """Take the flag off, within an act."""
    if Student.objects.filter(pk=student.pk).exclude(off_roster_on=None).update(off_roster_on=None):
        record_event(act="student_on_roster", subject=student, tenant=student.school_id)
