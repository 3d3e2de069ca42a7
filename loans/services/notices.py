"""What families are told: each thing once, by mail or by letter, and what came back."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import already, record_event
from core.models import User
from core.traces import as_left
from inventory.models import ProblemReport
from loans.exceptions import NoticeRefusedError
from loans.models import Guardian, Loan, Notice
from loans.rules.notices import OVERDUE, Owed, letter_round
from loans.selectors.notices import (
    came_back_from,
    guardian_to_tell,
    is_still_true,
    notice_days,
    overdue_notices,
    reminders_due,
    still_true,
    way_to,
)

COLUMNS = ("loan_id", "guardian_id", "sort", "way", "about_on", "round", "report_id")


def make_reminders(*, today: date, actor: User | None, at: datetime) -> list[Notice]:
    """Make the reminders that are owed by that day, each an act of its own; a second run finds none left."""
    return [
        notice
        for loan, owed in reminders_due(today=today)
        for one in owed
        if (notice := make_notice(loan=loan, owed=one, actor=actor, at=at)) is not None
    ]


def drop_letters(*, today: date, actor: User | None, at: datetime) -> None:
    """Leave the letters unprinted that no longer hold by that day, each an act of its own."""
    waiting = Notice.objects.to_print()
    holds = waiting.filter(still_true(today=today)).order_by().values("pk")
    for notice in waiting.exclude(pk__in=holds).order_by("pk"):
        drop_notice(notice=notice, actor=actor, at=at)


@service
def make_overdue_letters(*, loans: Collection[Loan], today: date, actor: User, at: datetime) -> list[Notice]:
    """Return the letters for what is overdue, in the order of the loans: a new one where a family was not told yet.

    None for a family told by mail. A letter that was made before is returned again, and no reminder follows it.
    """
    rows = Loan.objects.overdue(today=today).filter(pk__in=[loan.pk for loan in loans]).order_by("pk")
    rows = rows.select_for_update(of=("self",), no_key=True).select_related("student")
    fresh, days = list(rows.prefetch_related("student__guardians")), notice_days()
    made = overdue_notices(fresh)
    for loan in fresh:
        if loan.pk not in made:
            reminder = letter_round(due_on=loan.due_on, today=today, days=days)
            _make(loan, sort=OVERDUE, about_on=loan.due_on, round=reminder, way=Notice.Way.LETTER, actor=actor, at=at)
    made = overdue_notices(fresh)
    notices = [made[loan.pk] for loan in loans if loan.pk in made]
    return [notice for notice in notices if notice.way == Notice.Way.LETTER]


@service
def make_notice(*, loan: Loan, owed: Owed, actor: User | None, at: datetime) -> Notice | None:
    """Make one reminder, by mail or else by letter; None where it was made meanwhile, or the loan has ended.

    An earlier one of the same thing that still waits is left unsent.
    """
    fresh = lock_row(loan, "student")
    same: dict[str, Any] = {"loan": fresh, "sort": owed.sort, "about_on": owed.about_on, "round": owed.round}
    if not fresh.is_open or Notice.objects.live().filter(report=None, **same).exists():
        return None
    made = _make(**same, actor=actor, at=at)
    _drop_older(made, at=at)
    return made


@service
def tell_of_report(
    *, loan: Loan, report: ProblemReport, facts: Mapping[str, Any], actor: User, at: datetime
) -> Notice | None:
    """Tell the family that has the instrument of the report, once; None where that was done or the loan has ended.

    ``facts`` may hold the day to bring it (``bring_on``), and number and kind of what the student may use until then
    (``spare``, ``spare_kind``).
    """
    fresh = lock_row(loan, "student")
    if not fresh.is_open or Notice.objects.live().filter(loan=fresh, report=report).exists():
        return None
    about_on = timezone.localdate(report.said_at)
    return _make(
        fresh, sort=Notice.Sort.REPORT, about_on=about_on, round=1, report=report, facts=dict(facts), actor=actor, at=at
    )


def _make(loan: Loan, *, at: datetime, way: str = "", **columns: Any) -> Notice:
    guardian = guardian_to_tell(loan)
    notice = Notice.objects.create(
        **(columns | {"loan": loan, "guardian": guardian, "way": way or way_to(guardian), "made_at": at})
    )
    record_event(act="notice_made", subject=notice, tenant=loan.school_id, after=as_left(notice, *COLUMNS))
    return notice


def _drop_older(made: Notice, *, at: datetime) -> None:
    """Leave the reminders unsent that this one takes the place of: a family gets one letter, not three."""
    rows = Notice.objects.waiting().filter(
        loan=made.loan, sort=made.sort, about_on=made.about_on, round__lt=made.round, report=None
    )
    for older in rows.select_for_update(of=("self",), no_key=True).select_related("loan").order_by("pk"):
        _end(older, "notice_dropped", dropped_at=at)


@service
def note_mailed(*, notice: Notice, actor: None, at: datetime) -> None:
    """Note that the mail server took it."""
    fresh = lock_row(notice, "loan")
    if fresh.is_waiting:
        _end(fresh, "notice_mailed", handed_at=at)


@service
def drop_notice(*, notice: Notice, actor: User | None, at: datetime) -> None:
    """Leave a notice unsent that is no longer true."""
    fresh = lock_row(notice, "loan")
    if fresh.is_waiting:
        _end(fresh, "notice_dropped", dropped_at=at)


@service
def note_printed(*, notices: Collection[Notice], actor: User, at: datetime) -> int:
    """Note that these letters were printed; return how many of them were not noted before."""
    rows = Notice.objects.select_for_update(of=("self",), no_key=True).select_related("loan")
    waiting = list(rows.to_print().filter(pk__in=[notice.pk for notice in notices]).order_by("pk"))
    for notice in waiting:
        _end(notice, "notice_printed", handed_at=at)
    return len(waiting)


@service
def note_came_back(*, notice: Notice, actor: User | None, at: datetime) -> Notice | None:
    """Note that a notice did not arrive; without an actor, that the mail server refused it.

    Mail that came back is followed by a letter, which is returned, while what it says is true; and the guardian gets
    letters until the address is another than the one it came back from.
    """
    fresh = lock_row(notice, "loan__student")
    if fresh.came_back_at is not None:
        return None
    if fresh.dropped_at is not None or (actor is not None and fresh.handed_at is None):
        words = _("It was not sent, so it cannot have come back.")
        raise NoticeRefusedError(already(words, subject=fresh, acts=["notice_dropped"]))
    _end(fresh, "notice_came_back", came_back_at=at, came_back_to=actor)
    if fresh.way == Notice.Way.LETTER:
        return None
    _say_whether_mail_arrives(fresh)
    if not is_still_true(fresh, today=timezone.localdate(at)):
        return None
    same = {name: getattr(fresh, name) for name in ("sort", "about_on", "round", "report", "facts")}
    return _make(fresh.loan, **same, way=Notice.Way.LETTER, actor=actor, at=at)


@service
def undo_came_back(*, notice: Notice, actor: User, at: datetime) -> Notice | None:
    """Take back that a notice came back: it arrived after all. A letter that waits in its place is left unsent, and returned.

    NoticeRefusedError for what the mail server refused, and once a letter was printed in its place. Mail goes to the
    guardian's address again, unless other mail came back from it.
    """
    fresh = lock_row(notice, "loan__student")
    if fresh.came_back_at is None:
        return None
    if fresh.came_back_to_id is None:
        raise NoticeRefusedError(_("The mail server refused it, so it cannot have arrived."))
    same = {name: getattr(fresh, name) for name in ("loan", "sort", "about_on", "round", "report")}
    rows = Notice.objects.select_for_update(of=("self",), no_key=True).select_related("loan")
    other = rows.live().filter(**same).exclude(pk=fresh.pk).first()
    if other is not None:
        if other.handed_at is not None:
            words = _("The family has been notified again since, so this cannot be undone.")
            raise NoticeRefusedError(already(words, subject=other, acts=["notice_printed", "notice_mailed"]))
        _end(other, "notice_dropped", dropped_at=at)
    _end(fresh, "notice_came_back_undone", came_back_at=None, came_back_to=None)
    if fresh.way == Notice.Way.EMAIL:
        _say_whether_mail_arrives(fresh)
    return other


def _say_whether_mail_arrives(notice: Notice) -> None:
    for guardian in Guardian.objects.filter(pk=notice.guardian_id):
        came_back = came_back_from(guardian).exists()
        Guardian.objects.filter(pk=guardian.pk).update(mail_came_back=came_back)


def _end(notice: Notice, act: str, **columns: Any) -> None:
    for name, value in columns.items():
        setattr(notice, name, value)
    notice.save(update_fields=list(columns))
    record_event(act=act, subject=notice, tenant=notice.loan.school_id, after={"way": notice.way})
