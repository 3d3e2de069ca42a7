"""Open jobs as lines: the next step of each, what soaks, and until when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.core.paginator import Page, Paginator
from django.db.models import F
from django.utils import timezone

from repairs.models import Job, JobQuerySet
from repairs.rules.words import clock_time, duration
from repairs.selectors.planning import JobLine, job_states, line_of


@dataclass(frozen=True, slots=True)
class OpenLine:
    line: JobLine
    minutes: str
    left: str  # hands-on time to go, as likely as not
    waits: str  # "until 3:40 pm" or ""
    is_wait_over: bool
    due: str
    is_late: bool


@dataclass(frozen=True, slots=True)
class OpenLines:
    """One page of open jobs: to work on now, and those that soak, dry or set."""

    at_hand: tuple[OpenLine, ...]
    resting: tuple[OpenLine, ...]
    page: Page[Job]

    @property
    def count(self) -> int:
        return self.page.paginator.count


def open_job_lines(rows: JobQuerySet, *, now: datetime, number: str, per_page: int) -> OpenLines:
    """Return a page of open jobs, the first due first. Six queries, however many jobs."""
    ordered = rows.open().select_related("clock").order_by(F("due_on").asc(nulls_last=True), "opened_at", "pk")
    page: Page[Job] = Paginator(ordered, per_page).get_page(number)
    jobs: Sequence[Job] = list(page.object_list)
    today = timezone.localtime(now).date()
    lines = []
    for state in job_states(jobs):
        line = line_of(state)
        lines.append(_line(line, now=now, today=today, left=state.plan.attended_minutes.p50))
    return OpenLines(
        at_hand=tuple(one for one in lines if not one.waits or one.is_wait_over),
        resting=tuple(one for one in lines if one.waits and not one.is_wait_over),
        page=page,
    )


def _line(line: JobLine, *, now: datetime, today: date, left: float) -> OpenLine:
    until = line.waits_until
    due_on = line.job.due_on
    return OpenLine(
        line=line,
        minutes=duration(line.minutes) if line.minutes else "",
        left=duration(left),
        waits=clock_time(timezone.localtime(until), today=today) if until else "",
        is_wait_over=bool(until and until <= now),
        due=f"{due_on:%b} {due_on.day}" if due_on else "",
        is_late=bool(due_on and due_on < today),
    )
