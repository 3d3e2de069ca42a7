"""How long work ends: what came of it is kept for a day, for whoever began it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import IO, Final

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db.models import Q
from django.utils import translation
from django.utils.translation import gettext
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.access import has_perm, reach_of, roles_of
from core.models import LongWork, LongWorkQuerySet, User

ASKS_AGAIN: Final = "core.views.later.ask_again"  # what makes files
FOLDER: Final = "work"
KEPT_FOR: Final = timedelta(days=1)
SILENT_FOR: Final = timedelta(minutes=5)  # after which its worker is taken for dead: no step takes longer
UNTAKEN_FOR: Final = timedelta(seconds=20)
EVERYWHERE: Final = 0  # no school has this key
ROLES: Final = "roles"  # in ``about``: those of whoever began it


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it: a sentence, the address of a page, a file to take. All may be missing."""

    words: str = ""
    opens: str = ""
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


def is_untaken(row: LongWork, *, at: datetime) -> bool:
    """Whether it waits though no worker is busy: then there seems to be none."""
    if row.started_at is not None or row.begun_at > at - UNTAKEN_FOR:
        return False
    busy = Q(status=TaskResultStatus.RUNNING, started_at__gt=at - SILENT_FOR) | Q(finished_at__gt=at - UNTAKEN_FOR)
    return not DBTaskResult.objects.filter(busy).exists()


def reached(*, user: User, permission: str) -> list[int]:
    reach = reach_of(user, permission)
    return [EVERYWHERE] if reach is None else sorted(reach)


def may_take(*, row: LongWork, user: User) -> bool:
    """Whether somebody may have it made, or what came of it: they began it, and lost neither a role nor a school since."""
    if row.person_id != user.pk or not has_perm(user, row.permission):
        return False
    now = reached(user=user, permission=row.permission)
    keeps_schools = now == [EVERYWHERE] or set(row.schools) <= set(now)
    return keeps_schools and set(row.about.get(ROLES, ())) <= roles_of(user)


def end_work(
    row: LongWork, *, at: datetime, outcome: Outcome = Outcome(), is_failed: bool = False, words: str = ""
) -> bool:
    """Note its end, once; a file that comes after somebody gave it up is not kept."""
    name = ""
    if outcome.file is not None:
        with outcome.file:
            name = default_storage.save(f"{FOLDER}/{uuid.uuid4().hex}", File(outcome.file))
    ended = LongWork.objects.open().filter(pk=row.pk)
    is_first = ended.update(
        finished_at=at, is_failed=is_failed, words=words or outcome.words, opens=outcome.opens, file=name,
        file_name=outcome.file_name,
    )  # fmt: skip
    if name and not is_first:
        default_storage.delete(name)
    return bool(is_first)


def stopped_words() -> str:
    return gettext("The server was stopped before this was done. Nothing is lost; begin it again.")


def end_stopped(rows: LongWorkQuerySet, *, at: datetime) -> None:
    """End what was not heard of for so long that its worker must be dead."""
    for row in rows.open().filter(heard_at__lt=at - SILENT_FOR):
        with translation.override(row.language):
            end_work(row, at=at, is_failed=True, words=stopped_words())


def forget_work(*, at: datetime) -> int:
    """Delete what ended a day ago, with its file; return how many."""
    old = LongWork.objects.filter(finished_at__lt=at - KEPT_FOR)
    for name in old.exclude(file="").values_list("file", flat=True):
        default_storage.delete(name)
    return old.delete()[0]


def forget_work_files(*, at: datetime) -> None:
    """Delete every file that long work made, and have none come of what is being made: a person in one is erased."""
    rows = LongWork.objects.exclude(file="")
    for name in rows.values_list("file", flat=True):
        default_storage.delete(name)
    rows.update(file="")
    for row in LongWork.objects.open().filter(does=ASKS_AGAIN):
        with translation.override(row.language):
            words = gettext("A student was erased meanwhile, who may be in this file. Begin it again.")
            end_work(row, at=at, is_failed=True, words=words)
