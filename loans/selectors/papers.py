"""Signed papers: which are still to be made, and how long each is kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult, get_date_max

from inventory.models import (
    District,
)
from loans.models import Addendum, Agreement, Student, open_loans_by
from loans.rules.due import keep_until

PAPER_TASK = "loans.tasks.make_paper"
UNDONE = (TaskResultStatus.READY, TaskResultStatus.RUNNING)
PAPER_IS_LATE = timedelta(hours=1)


def due_papers() -> QuerySet[Agreement]:
    """Return the agreements whose PDF, or an addendum's, is still to be made: not erased, and what was signed is there."""
    unmade = Addendum.objects.filter(pdf_sha256="").values("agreement")
    due = Agreement.objects.filter(Q(pdf_sha256="") | Q(pk__in=unmade), loan__student__erased_at=None)
    return due.exclude(pdf_sha256="", student_signature="", scan="").for_paper().order_by("pk")


@dataclass(frozen=True, slots=True)
class WaitingPaper:
    """A paper that the worker is going to make."""

    failures: int
    next_at: datetime | None  # None: as soon as the worker comes to it
    queued_at: datetime


def waiting_papers(agreement: Agreement | None = None) -> dict[int, WaitingPaper]:
    """Return the papers that wait in the queue, or are being made, by the agreement's key."""
    waiting = DBTaskResult.objects.filter(task_path=PAPER_TASK, status__in=UNDONE)
    if agreement is not None:
        waiting = waiting.filter(args_kwargs__kwargs__agreement=agreement.pk)
    return {
        task.args_kwargs["kwargs"]["agreement"]: WaitingPaper(
            failures=task.args_kwargs["kwargs"].get("failures", 0),
            next_at=None if task.run_after == get_date_max() else task.run_after,
            queued_at=task.enqueued_at,
        )
        for task in reversed(waiting)  # of several for one paper, the one that comes first
    }


def paper_differences(*, now: datetime) -> tuple[list[str], list[str]]:
    """Return a sentence for each paper that waits as it should, and one for each that is late, failed or forgotten."""
    waits, wrong = [], []
    known = waiting_papers()
    for paper in due_papers():
        task, loan = known.get(paper.pk), f"loan {paper.loan_id}"
        if task is None:
            wrong.append(f"{loan}: its paper is due, and nothing is queued to make it; the worker queues it")
        elif task.failures:
            wrong.append(f"{loan}: its paper could not be made, {task.failures} times; it will be tried again")
        elif abs(now - task.queued_at) > PAPER_IS_LATE:
            wrong.append(
                f"{loan}: its paper has been due since {task.queued_at:%Y-%m-%d %H:%M}; is the worker running?"
            )
        else:
            waits.append(f"{loan}: its paper is being made")
    return waits, wrong


def years_papers_are_kept() -> int | None:
    """Return how many years the district keeps signed papers after the return; None if it has not decided."""
    return District.objects.values_list("keep_papers_years", flat=True).first()


def expired_papers(*, today: date) -> Iterator[tuple[Agreement, date]]:
    """Yield papers whose files may be deleted, with the day since when, oldest first; none if no period is set."""
    years = years_papers_are_kept()
    if years is not None:
        for agreement, until in _with_last_day(_papers_of_closed_loans(), years):
            if until <= today:
                yield agreement, until


def papers_to_keep(student: Student, *, at: datetime) -> list[tuple[Agreement, date]]:
    """Return the student's papers that must still be kept, each with its last day."""
    years = years_papers_are_kept()
    if years is None:
        return []
    mine = _with_last_day(_papers_of_closed_loans().filter(loan__student=student), years)
    return [(agreement, until) for agreement, until in mine if until > timezone.localdate(at)]


def _papers_of_closed_loans() -> QuerySet[Agreement]:
    kept = ~Q(pdf="") | ~Q(scan="") | ~Q(student_signature="") | ~Q(guardian_signature="")
    ended = Agreement.objects.filter(kept).exclude(open_loans_by("loan__"))
    return ended.select_related("loan__instrument").order_by(Coalesce("loan__returned_at", "loan__undone_at"), "pk")


def _with_last_day(agreements: Iterable[Agreement], years: int) -> Iterator[tuple[Agreement, date]]:
    for agreement in agreements:
        ended_at = agreement.loan.returned_at or agreement.loan.undone_at
        if ended_at is not None:
            yield agreement, keep_until(returned_on=timezone.localdate(ended_at), years=years)
