"""Which families are to be reminded of what, and whether a notice still says what is true."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db.models import F, Q
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Role, School
from loans.models import Guardian, Loan, Notice, NoticeQuerySet, open_loans_by
from loans.rules.notices import NoticeDays, Owed, handed_over_from, reminders_owed

MAIL_TASK = "loans.tasks.mail_notice"
UNDONE = (TaskResultStatus.READY, TaskResultStatus.RUNNING)
AT_ONCE = 500


def notice_days() -> NoticeDays:
    """Return the district's figures."""
    figures = catalog().settings
    return NoticeDays(
        before=int(figures["notice_before_days"]),
        after=int(figures["notice_after_days"]),
        to_sign=int(figures["notice_to_sign_days"]),
        again=int(figures["notice_again_days"]),
        most=int(figures["notice_most"]),
    )


def mailed_from(at: datetime) -> datetime:
    """Return when mail may be handed over: at once, or after the quiet hours and days of the district."""
    figures = catalog().settings
    local = timezone.localtime(at).replace(tzinfo=None)
    from_then = handed_over_from(
        local,
        opens=int(figures["mail_opens_hour"]),
        closes=int(figures["mail_closes_hour"]),
        on_weekends=bool(figures["mail_on_weekends"]),
    )
    return at if from_then == local else timezone.make_aware(from_then)


def loans_to_sign_for(way: str = "") -> Q:
    """Return what is true of an open loan whose agreement a family is still to sign; ``way`` leads to it: "loan__"."""
    return Q(**{f"{way}agreement": None, f"{way}is_signed_elsewhere": False})


def reminders_due(*, today: date) -> Iterator[tuple[Loan, list[Owed]]]:
    """Yield the open loans with the reminders that are owed by that day and were not made yet."""
    days = notice_days()
    due = Q(due_on__lte=today + timedelta(days=days.before)) | loans_to_sign_for()
    keys = list(Loan.objects.open().filter(due).order_by("school", "pk").values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        some = keys[start : start + AT_ONCE]
        known = set(
            Notice.objects.live().filter(loan__in=some, report=None).values_list("loan", "sort", "about_on", "round")
        )
        for loan in Loan.objects.filter(pk__in=some).select_related("agreement").order_by("school", "pk"):
            owed = reminders_owed(
                lent_on=loan.lent_on, due_on=loan.due_on, is_to_sign=is_to_sign(loan), today=today, days=days
            )
            if new := [one for one in owed if (loan.pk, *one) not in known]:
                yield loan, new


def overdue_notices(loans: Iterable[Loan]) -> dict[int, Notice]:
    """Return by loan the latest notice that it is overdue, as its due date is now. One query."""
    rows = Notice.objects.live().filter(loan__in=loans, sort=Notice.Sort.OVERDUE, about_on=F("loan__due_on"))
    return {notice.loan_id: notice for notice in rows.for_saying().order_by("round", "pk")}


def is_to_sign(loan: Loan) -> bool:
    return getattr(loan, "agreement", None) is None and not loan.is_signed_elsewhere


def still_true(*, today: date) -> Q:
    """Return what is true of a notice that holds that day; after a return, a signature or another due date it does not."""
    due, sort = Q(loan__due_on=F("about_on")), Notice.Sort
    says = (
        Q(sort=sort.SIGNATURE) & loans_to_sign_for("loan__")
        | Q(sort=sort.DUE_SOON, about_on__gte=today) & due
        | Q(sort=sort.OVERDUE, about_on__lt=today) & due
        | Q(sort=sort.REPORT, report__closed_at=None)
    )
    return open_loans_by("loan__") & says


def is_still_true(notice: Notice, *, today: date) -> bool:
    return Notice.objects.filter(still_true(today=today), pk=notice.pk).exists()


def guardian_to_tell(loan: Loan) -> Guardian | None:
    """Return whom notices go to: the first guardian, or nobody where an adult or a group borrows.

    Of many loans, prefetch ``student__guardians``.
    """
    return next(iter(loan.student.guardians.all()), None) if loan.student.has_guardians else None


def way_to(guardian: Guardian | None) -> Notice.Way:
    """Return by which way a guardian is told: by mail where there is an address that mail did not come back from."""
    may_mail = settings.MAIL_IS_SET and guardian is not None and guardian.email and not guardian.mail_came_back
    return Notice.Way.EMAIL if may_mail else Notice.Way.LETTER


def came_back_from(guardian: Guardian) -> NoticeQuerySet:
    """Return the mail that came back from the address the guardian has now, not from one they had before."""
    rows = Notice.objects.filter(guardian=guardian, way=Notice.Way.EMAIL).exclude(came_back_at=None)
    if guardian.email_since is None:
        return rows
    return rows.filter(Q(handed_at__gt=guardian.email_since) | Q(handed_at=None, came_back_at__gt=guardian.email_since))


def queued_notices() -> frozenset[int]:
    """Return the keys of the notices that wait in the queue to be mailed. One query."""
    waiting = DBTaskResult.objects.filter(task_path=MAIL_TASK, status__in=UNDONE)
    return frozenset(task.args_kwargs["kwargs"]["notice"] for task in waiting)


def person_at(school: School) -> User | None:
    """Return whom families ask for at a school: its first director, or None."""
    held = User.objects.filter(is_active=True, staff_roles__school=school, staff_roles__role=Role.DIRECTOR)
    return held.order_by("staff_roles__pk").first()
