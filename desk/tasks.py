"""In the background: stored state follows the district's figures, and archives of years are made."""

from __future__ import annotations

from datetime import date, datetime
from typing import Final

from django.urls import reverse
from django_tasks import TaskContext, TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from core.models import Event, LongWork
from core.queue import LAST
from core.services.long_work import Outcome
from desk.archives import archive_year
from desk.selectors.archives import MADE
from desk.services.recomputing import recompute_all
from inventory.selectors.figures import is_recompute_due, waits_now

BECAUSE = "The district's figures changed."

ARCHIVE: Final = "desk.tasks.make_archive"


@task(takes_context=True)
def reckon(context: TaskContext) -> None:  # this name is in the queue
    """Compute everything again, if it does not follow the figures in force."""
    now = context.task_result.started_at
    if now is not None and is_recompute_due(at=now):
        recompute_all(because=BECAUSE, actor=None, at=now)


def queue_recompute() -> int:
    """Queue it, in the act that sets a figure; how many were queued: none where one waits to be begun."""
    if DBTaskResult.objects.filter(task_path=reckon.module_path, status=TaskResultStatus.READY).exists():
        return 0
    reckon.using(priority=LAST).enqueue()
    return 1


def queue_due_recompute() -> int:
    """Queue it where stored state waits: a figure's day comes without anybody's act, and a try may have failed."""
    return queue_recompute() if waits_now() else 0


def make_archive(row: LongWork, at: datetime) -> Outcome:
    """Make the archive of a year that somebody asked for; once, however often the worker begins it."""
    key = f"{row.pk} {row.queued_at.isoformat()}"
    if not Event.objects.filter(act=MADE, after__task=key).exists():
        first, last = (date.fromisoformat(row.arguments[day]) for day in ("first", "last"))
        archive_year(first=first, last=last, actor=row.person, at=at, task=key)
    return Outcome(url=reverse("desk:archives"))


def latest_archive_work() -> LongWork | None:
    """The archive that is being made or waits to be, else the last that ended, for as long as that is kept."""
    rows = LongWork.objects.filter(function=ARCHIVE)
    return rows.open().first() or rows.order_by("-queued_at").first()
