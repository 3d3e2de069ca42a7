"""Stored state follows the district's figures, in the background: when one changes, and when one's day has come."""

from __future__ import annotations

from django_tasks import TaskContext, TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from core.queue import LAST
from desk.services.reckoning import reckon_anew
from inventory.selectors.figures import waits_for_reckoning, waits_now

BECAUSE = "The district's figures changed."


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
