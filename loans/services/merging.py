"""Two records of one student become one: the other stays as it was and leads to the one that is kept."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import service
from core.events import already, record_event
from core.models import User
from inventory.services.state import lock_instruments
from loans.exceptions import StudentRefusedError
from loans.models import Guardian, LegalHold, Loan, Seat, SharedUse, Student
from loans.selectors.ledger import owed_by
from loans.services.seats import end_seats
from loans.services.sharing import move_use
from loans.services.students import change_student, guardian_given


def _locked(*keys: int) -> dict[int, Student]:
    return {row.pk: row for row in Student.objects.select_for_update().filter(pk__in=keys).order_by("pk")}


@service
def merge_students(*, kept: Student, away: Student, actor: User, at: datetime) -> Student:
    """Let the record ``away`` lead to ``kept``; ``unmerge_student`` undoes it.

    Its seats, with what they share in class, go to ``kept`` and stay there, and so does what only ``away`` has of number,
    roster identifier and guardians: the next roster finds ``kept``. No other row of either is changed. Refused
    while ``away`` has an open loan, money or a legal hold: then it is the one to keep.
    """
    shared = SharedUse.objects.filter(seat__student=away, until=None).values_list("instrument_id", flat=True)
    lock_instruments(*shared)
    rows = _locked(kept.pk, away.pk)
    one, other = rows[kept.pk], rows[away.pk]
    if one.pk == other.pk:
        raise StudentRefusedError(_("That is the same record."))
    if one.school_id != other.school_id or one.erased_at or other.erased_at:
        raise StudentRefusedError(_("These two records cannot be merged."))
    if one.merged_into_id or other.merged_into_id:
        words = _("One of them has already been merged into another record.")
        raise StudentRefusedError(already(words, subject=other, acts=["student_merged"]))
    _refuse_if_in_use(one, other, at=at)
    _move_names(one, other, actor=actor, at=at)
    _move_seats(one, other, actor=actor, at=at)
    Student.objects.filter(pk=other.pk).update(merged_into=one)
    record_event(act="student_merged", subject=other, tenant=other.school_id, after={"into": one.pk})
    return one


def _refuse_if_in_use(kept: Student, away: Student, *, at: datetime) -> None:
    rows = Loan.objects.open().filter(student__in=[kept, away]).order_by("-pk")
    open_loans = dict(rows.values_list("student_id", "instrument__asset_number"))
    if len(open_loans) == 2:
        words = _(
            "Each has an instrument: %(ours)s and %(theirs)s. If the student has both, open the loan of %(theirs)s, choose "
            "“This was a mistake”, then “Wrong student”, and give it to the other record. If not, take one back. Then merge."
        )
        raise StudentRefusedError(words % {"ours": open_loans[kept.pk], "theirs": open_loans[away.pk]})
    today = timezone.localdate(at)
    is_held = LegalHold.objects.in_force(today=today).filter(student=away).exists()
    if away.pk in open_loans or is_held or owed_by(away):
        raise StudentRefusedError(_("The other record has a loan, money owed or a hold. Merge this one into it."))


def _move_names(kept: Student, away: Student, *, actor: User, at: datetime) -> None:
    """Give ``kept`` what it has none of; whoever the roster knows has the grade as well."""
    number, sourced_id = kept.number or away.number, kept.sourced_id or away.sourced_id
    theirs, ours = (list(Guardian.objects.filter(student=one).order_by("place")) for one in (away, kept))
    guardians = [guardian_given(row) for row in theirs] if kept.has_guardians and theirs and not ours else None
    if (number, sourced_id) == (kept.number, kept.sourced_id) and guardians is None:
        return
    has_new_id = sourced_id != kept.sourced_id
    Student.objects.filter(pk=away.pk).update(
        number=away.number if kept.number else "", sourced_id=away.sourced_id if kept.sourced_id else ""
    )  # before ``kept`` takes them: each is there once
    change_student(
        student=kept,
        name=kept.name,
        grade=(has_new_id and away.grade) or kept.grade,
        level=kept.level,
        number=number,
        sourced_id=sourced_id,
        guardians=guardians,
        actor=actor,
        at=at,
    )


def _move_seats(kept: Student, away: Student, *, actor: User, at: datetime) -> None:
    """Give the seats of ``away`` to ``kept``; where both sit in one place, the one that says what is played stays."""
    rows = Seat.objects.filter(student__in=[kept, away], until=None).select_related("period", "ensemble").order_by("pk")
    there = {(seat.period_id, seat.ensemble_id, seat.kind_code): seat for seat in rows if seat.student_id == kept.pk}
    for seat in [seat for seat in rows if seat.student_id == away.pk]:
        place = seat.period or seat.ensemble
        here = {kind: one for (*where, kind), one in there.items() if where == [seat.period_id, seat.ensemble_id]}
        same = here.get(seat.kind_code) or (next(iter(here.values()), None) if not seat.kind_code else None)
        ends = seat if same else here.get("")
        if same:
            move_use(seat=seat, to=same, at=at)
        else:
            Seat.objects.filter(pk=seat.pk).update(student=kept)
            record_event(act="seat_moved", subject=seat, tenant=kept.school_id, after={"student": kept.pk})
        if ends and place:
            end_seats(place=place, seats=[ends.pk], actor=actor, at=at)


@service
def unmerge_student(*, away: Student, actor: User, at: datetime) -> Student:
    """Make a merged record one of its own again."""
    if not Student.objects.filter(pk=away.pk).exclude(merged_into=None).update(merged_into=None):
        words = _("It is a separate record. Nothing was changed.")
        raise StudentRefusedError(already(words, subject=away, acts=["student_unmerged"]))
    record_event(act="student_unmerged", subject=away, tenant=away.school_id)
    return Student.objects.get(pk=away.pk)
