"""In the background: stored state follows the district's figures, and archives of years are made."""

from __future__ import annotations

import logging
from datetime import date, datetime, timedelta

from django.db.models import Q
from django.utils.translation import gettext
from django_tasks import TaskContext, TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from core.exceptions import ArchiveError
from core.models import Event, User
from core.queue import LAST
from desk.archives import archive_year
from desk.selectors.archives import MADE
from desk.services.reckoning import reckon_anew
from inventory.selectors.figures import waits_for_reckoning, waits_now

BECAUSE = "The district's figures changed."

logger = logging.getLogger(__name__)
ARCHIVE_TAKES = timedelta(hours=2)  # at most, on a slow server


@task(takes_context=True)
def reckon(context: TaskContext) -> None:
    """Reckon everything anew, if it does not follow the figures in force."""
    now = context.task_result.started_at
    if now is not None and waits_for_reckoning(at=now):
        reckon_anew(because=BECAUSE, actor=None, at=now)


def queue_reckoning() -> int:
    """Queue it, in the act that sets a figure; how many were queued: none where one waits to be begun."""
    if DBTaskResult.objects.filter(task_path=reckon.module_path, status=TaskResultStatus.READY).exists():
        return 0
    reckon.using(priority=LAST).enqueue()
    return 1


def queue_due_reckoning() -> int:
    """Queue it where stored state waits: a figure's day comes without anybody's act, and a try may have failed."""
    return queue_reckoning() if waits_now() else 0


@task(takes_context=True)
def make_archive(context: TaskContext, *, first: str, last: str, person: int) -> dict[str, str]:
    """Make the archive of a year that somebody asked for; once, however often the task runs."""
    now, key = context.task_result.started_at, str(context.task_result.id)
    actor = User.objects.filter(pk=person).first()
    if now is None or Event.objects.filter(act=MADE, after__task=key).exists():
        return {}
    try:
        archive_year(first=date.fromisoformat(first), last=date.fromisoformat(last), actor=actor, at=now, task=key)
    except ArchiveError as error:
        logger.warning("the archive from %s to %s was not made: %s", first, last, error)
        return {"refused": str(error)}
    return {}


def is_archive_waiting(at: datetime) -> bool:
    """Whether an archive is being made or waits to be. One begun long ago has lost its worker, and waits for nobody."""
    waits = Q(status=TaskResultStatus.READY)
    runs = Q(status=TaskResultStatus.RUNNING, started_at__gt=at - ARCHIVE_TAKES)
    return DBTaskResult.objects.filter(waits | runs, task_path=make_archive.module_path).exists()


def refused_archive() -> str:
    """Return why the archive that was asked for last was not made, "" where it was."""
    done = DBTaskResult.objects.filter(task_path=make_archive.module_path).order_by("-enqueued_at").first()
    if done is None or done.status not in {TaskResultStatus.SUCCESSFUL, TaskResultStatus.FAILED}:
        return ""
    if done.status == TaskResultStatus.FAILED:
        return gettext("Something went wrong. The server's log says what.")
    return str((done.return_value or {}).get("refused", ""))
