"""Setting and lifting a legal hold."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from loans.exceptions import StudentRefusedError
from loans.models import LegalHold, Student

LONGEST_YEARS = 30


@service(once="nonce")
def set_hold(
    *, student: Student, reason: str, ends_on: date, actor: User, at: datetime, nonce: UUID | None = None
) -> LegalHold:
    """Keep the student's record from being erased until the day; the log says until when, not why."""
    fresh, today = lock_row(student), timezone.localdate(at)  # erasing waits for this row too
    if fresh.erased_at is not None:
        raise StudentRefusedError(_("The names have been erased already."))
    if not today <= ends_on <= today.replace(year=today.year + LONGEST_YEARS, day=min(today.day, 28)):
        raise StudentRefusedError(_("The last day must be between today and 30 years from now."))
    hold = LegalHold.objects.create(student=fresh, reason=reason, ends_on=ends_on, set_at=at, actor=actor)
    record_event(act="hold_set", subject=hold, tenant=fresh.school_id, after={"student": fresh.pk, "ends_on": ends_on})
    return hold


@service
def lift_hold(*, hold: LegalHold, actor: User, at: datetime) -> None:
    """End a hold before its day. Lifting it again changes nothing."""
    row = lock_row(hold, "student")
    if row.lifted_at is not None:
        return
    row.lifted_at, row.lifted_by = at, actor
    row.save(update_fields=["lifted_at", "lifted_by"])
    record_event(act="hold_lifted", subject=row, tenant=row.student.school_id, after={"student": row.student_id})
