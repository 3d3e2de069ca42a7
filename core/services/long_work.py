"""How long work ends: what came of it is kept for a day, for whoever began it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import IO, Final, TypeVar

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import models
from django.db.models import F, Q
from django.utils import translation
from django.utils.translation import gettext
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.access import has_perm, reach_of, roles_of
from core.acts import lock_row, service
from core.exceptions import RefusedError
from core.models import LongWork, LongWorkQuerySet, User

REPLAY: Final = "core.views.later.replay_request"  # what makes files
FOLDER: Final = "work"
KEPT_FOR: Final = timedelta(days=1)
STALLED_AFTER: Final = timedelta(minutes=5)  # after which its worker is taken for dead; a long save is silent as well
UNCLAIMED_AFTER: Final = timedelta(seconds=20)
STALLED: Final = Q(is_failed=True, reported_at__lt=F("finished_at") - STALLED_AFTER)  # ended by nobody
EVERYWHERE: Final = 0  # no school has this key
PAGE: Final = "page"  # in ``arguments``: address of the page where it was begun, to go back to where it is refused
MADE: Final = "made"  # in ``arguments``: keys of the rows that an attempt made
ROLES: Final = "roles"  # in ``arguments``: those of whoever began it


Row = TypeVar("Row", bound=models.Model)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it: a sentence, the address of a page, a file to take. All may be missing."""

    message: str = ""
    url: str = ""
    file: IO[bytes] | None = None
    file_name: str = ""


class State(StrEnum):
    WAITS = "waits"
    RUNS = "runs"
    DONE = "done"
    FAILED = "failed"


def state_of(row: LongWork) -> State:
    if row.finished_at is not None:
        return State.FAILED if row.is_failed else State.DONE
    return State.RUNS if row.started_at is not None else State.WAITS


def unclaimed(rows: Iterable[LongWork], *, at: datetime) -> set[int]:
    """Return the keys of those that wait though no worker is busy: then there seems to be none."""
    waiting = {row.pk for row in rows if row.started_at is None and row.queued_at <= at - UNCLAIMED_AFTER}
    busy = Q(status=TaskResultStatus.RUNNING, started_at__gt=at - STALLED_AFTER) | Q(
        finished_at__gt=at - UNCLAIMED_AFTER
    )
    return set() if waiting and DBTaskResult.objects.filter(busy).exists() else waiting


def schools_in_reach(*, user: User, permission: str) -> list[int]:
    reach = reach_of(user, permission)
    return [EVERYWHERE] if reach is None else sorted(reach)


def may_open(*, row: LongWork, user: User) -> bool:
    """Whether somebody may have it made, or what came of it: they began it, and lost neither a role nor a school since."""
    if row.person_id != user.pk or not has_perm(user, row.permission):
        return False
    now = schools_in_reach(user=user, permission=row.permission)
    keeps_schools = now == [EVERYWHERE] or set(row.schools) <= set(now)
    return keeps_schools and set(row.arguments.get(ROLES, ())) <= roles_of(user)


def finish_work(
    row: LongWork, *, at: datetime, outcome: Outcome = Outcome(), is_failed: bool = False, message: str = ""
) -> bool:
    """Note its end, once; a file that comes after somebody gave it up is not kept.

    What was taken for stalled and is done after all is done: a long save says nothing before its end. Only a file is
    not kept then, for somebody may have been erased meanwhile.
    """
    name = ""
    if outcome.file is not None:
        with outcome.file:
            name = default_storage.save(f"{FOLDER}/{uuid.uuid4().hex}", File(outcome.file))
    is_open = Q(finished_at=None)
    ended = LongWork.objects.filter(is_open if is_failed or name else is_open | STALLED, pk=row.pk)
    is_first = ended.update(
        finished_at=at, is_failed=is_failed, message=message or outcome.message, result_url=outcome.url, file=name,
        file_name=outcome.file_name, seen_at=None,
    )  # fmt: skip
    if name and not is_first:
        default_storage.delete(name)
    return bool(is_first)


@service
def finish_with(*, work: LongWork, act: Callable[[], Outcome], actor: User, at: datetime) -> Outcome:
    """Act and note the end in one transaction: who gives it up meanwhile is first, and nothing is written, or too late."""
    outcome = act()
    if not finish_work(work, at=at, outcome=outcome):
        raise RefusedError(gettext("It was given up. Nothing was saved."))
    return outcome


def give_up_work(rows: LongWorkQuerySet, *, at: datetime, message: str) -> LongWork | None:
    """End those that are not done, stalled ones too; return one that was done before, for which it is too late."""
    rows.filter(STALLED).update(reported_at=at, message=message, seen_at=at)
    for row in rows.open():
        if finish_work(row, at=at, is_failed=True, message=message):
            rows.filter(pk=row.pk).update(seen_at=at)  # its person is looking
    return rows.exclude(finished_at=None).filter(is_failed=False).first()


@service
def make_once(
    *, work: LongWork, make: Callable[[], Sequence[Row]], rows: models.QuerySet[Row], actor: User, at: datetime
) -> list[Row]:
    """Make rows, or return those an earlier attempt of this work made, where all are still among ``rows``."""
    fresh = lock_row(work)
    keys = fresh.arguments.get(MADE, [])
    found = rows.in_bulk(keys)
    if keys and len(found) == len(keys):
        return [found[key] for key in keys]
    made = list(make())
    LongWork.objects.filter(pk=work.pk).update(arguments=fresh.arguments | {MADE: [one.pk for one in made]})
    return made


def stopped_message() -> str:
    return gettext("The server was stopped before this was done. Nothing is lost; start it again.")


def fail_stalled_work(rows: LongWorkQuerySet, *, at: datetime) -> None:
    """End what was not heard of for so long that its worker must be dead."""
    for row in rows.open().filter(reported_at__lt=at - STALLED_AFTER):
        with translation.override(row.language):
            finish_work(row, at=at, is_failed=True, message=stopped_message())


def delete_old_work(*, at: datetime) -> int:
    """Delete what ended a day ago, with its file; return how many."""
    old = LongWork.objects.filter(finished_at__lt=at - KEPT_FOR)
    for name in old.exclude(file="").values_list("file", flat=True):
        default_storage.delete(name)
    return old.delete()[0]


def delete_work_files(*, at: datetime) -> None:
    """Delete every file that long work made, and have none come of what is being made: a person in one is erased."""
    rows = LongWork.objects.exclude(file="")
    for name in rows.values_list("file", flat=True):
        default_storage.delete(name)
    rows.update(file="")
    for row in LongWork.objects.open().filter(function=REPLAY):
        with translation.override(row.language):
            message = gettext("A student who may be in this file has since been erased. Start it again.")
            finish_work(row, at=at, is_failed=True, message=message)
