"""What the database says about how the server is: read at each look of whoever watches it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Min
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from loans.selectors.papers import due_papers


@dataclass(frozen=True, slots=True)
class Gauges:
    tasks: dict[str, int]  # by status
    oldest_task_s: float  # how long the task waits that waits longest
    papers_due: int


def gauges(*, at: datetime) -> Gauges:
    counted = dict(DBTaskResult.objects.order_by().values_list("status").annotate(Count("pk")))
    since = DBTaskResult.objects.filter(status=TaskResultStatus.READY).aggregate(Min("enqueued_at"))["enqueued_at__min"]
    return Gauges(
        tasks={status.value.lower(): counted.get(status.value, 0) for status in TaskResultStatus},
        oldest_task_s=max((at - since).total_seconds(), 0.0) if since else 0.0,
        papers_due=due_papers().count(),
    )
