"""Work done after the response. A task is a row that the act saves with what it is about, so neither is there alone.

The queue itself is a package's (``django_tasks_db``); here is what it leaves open: a task whose worker was killed runs
again, one that failed waits longer each time, and what should be queued but is not is found.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from django.utils.module_loading import import_string
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=6)
KEPT_FOR = timedelta(days=7)
LAST = -10  # the priority of what nobody waits for

_sweeps: list[str] = []


def register_sweep(path: str) -> None:
    """Name a function that takes no arguments, queues what is due and not queued, and returns how many.

    By its path, so that a command which never sweeps need not import it.
    """
    if path not in _sweeps:
        _sweeps.append(path)


def wait_after(failures: int) -> timedelta:
    """Return how long to wait before the next try: a minute, four, sixteen … six hours. It never gives up."""
    return min(LONGEST_WAIT, FIRST_WAIT * (1 << min(2 * (failures - 1), 20)))


def sweep(*, now: datetime) -> int:
    """Put back what a killed worker left running, queue what is missing and delete what is done.

    Return how many were put back or queued. Tasks may run twice, so each must do nothing when it finds its work done.
    """
    stranded = DBTaskResult.objects.running().update(status=TaskResultStatus.READY)
    DBTaskResult.objects.finished().filter(finished_at__lt=now - KEPT_FOR).delete()
    queue: list[Callable[[], int]] = [import_string(path) for path in _sweeps]
    return stranded + sum(find() for find in queue)
