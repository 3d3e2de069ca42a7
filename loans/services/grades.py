"""The grades go up in August, at most once a school year, and can be taken back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_name, lock_row, service
from core.events import already, record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.models import School
from loans.exceptions import StudentRefusedError
from loans.models import GradeRoll, Student
from loans.rules.due import school_year_ends
from loans.rules.grades import school_year_of
from loans.selectors.grades import roll_of, rolled_students
from loans.services.leaving import let_students_leave, note_on_roster, note_student_left

LEAVES = ""


@service(once="nonce")
def roll_grades(
    *,
    school: School,
    steps: Mapping[str, str],
    staying: Collection[int],
    seen: Mapping[str, int],
    left_on: date,
    actor: User,
    at: datetime,
    nonce: UUID | None = None,
) -> GradeRoll:
    """Move the school's students from each grade of ``steps`` to the next one, or let them leave (LEAVES).

    ``staying`` are the keys of students who keep their grade. ``seen`` says how many were shown in each grade: who came
    since then has been looked at by nobody, so nothing is changed. Of who leaves with an instrument, the flag is set
    (``let_students_leave``).
    """
    lock_name(f"grades {school.pk}")
    year = school_year_of(timezone.localdate(at), ends=school_year_ends(catalog().settings))
    done = roll_of(school, year=year)
    if done is not None:
        words = _("The grades have already gone up for the school year %(year)s. Nothing was changed.") % {"year": done}
        raise StudentRefusedError(already(words, subject=done, acts=["grades_went_up"]))
    by_grade = defaultdict[str, list[int]](list)
    for pk, grade in rolled_students(school).select_for_update(no_key=True).order_by("pk").values_list("pk", "grade"):
        by_grade[grade].append(pk)
    if {grade: len(keys) for grade, keys in by_grade.items()} != dict(seen):
        raise StudentRefusedError(_("The list of students has changed since you opened this page. Look at it again."))
    lines: dict[str, tuple[str, str | None]] = {}
    leaving: list[int] = []
    for grade, new in steps.items():
        going = [pk for pk in by_grade.get(grade, ()) if pk not in staying]
        if new == LEAVES:
            leaving += going
        elif new != grade:
            Student.objects.filter(pk__in=going).update(grade=new)
        else:
            continue
        lines |= dict.fromkeys(map(str, going), (grade, None if new == LEAVES else new))
    if not lines:
        raise StudentRefusedError(_("Nobody goes up and nobody leaves, so nothing was changed."))
    # Those of the year before no longer need undoing.
    GradeRoll.objects.filter(school=school).exclude(lines={}).update(lines={})
    roll = GradeRoll.objects.create(school=school, year=year, rolled_at=at, actor=actor, left_on=left_on, lines=lines)
    gone = let_students_leave(students=leaving, left_on=left_on, actor=actor, at=at)
    after = {"year": year, "left_on": left_on, "up": len(lines) - len(leaving), **gone._asdict()}
    record_event(act="grades_went_up", subject=roll, tenant=school.pk, after=after)
    return roll


@service
def undo_grade_roll(*, roll: GradeRoll, actor: User, at: datetime) -> GradeRoll:
    """Give everybody back the grade of before, and those who left then too; what was changed since then stays."""
    lock_name(f"grades {roll.school_id}")
    fresh = lock_row(roll, "school")
    if fresh.undone_at is not None or not fresh.lines:
        words = _("The grade change can no longer be undone. Nothing was changed.")
        raise StudentRefusedError(already(words, subject=fresh, acts=["grades_went_back"]))
    back = 0
    for student in Student.objects.select_for_update(no_key=True).filter(pk__in=fresh.lines).order_by("pk"):
        before, after = fresh.lines[str(student.pk)]
        if after is not None:
            back += Student.objects.filter(pk=student.pk, grade=after, erased_at=None).update(grade=before)
            continue
        if student.left_on == fresh.left_on:
            note_student_left(student=student, left_on=None, actor=actor, at=at)
            back += 1
        elif student.off_roster_on == fresh.left_on:
            note_on_roster(student=student)
            back += 1
    fresh.undone_at, fresh.undone_by = at, actor
    fresh.save(update_fields=["undone_at", "undone_by"])
    record_event(act="grades_went_back", subject=fresh, tenant=fresh.school_id, after={"back": back})
    return fresh
