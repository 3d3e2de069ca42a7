"""What takes too long for one request: begun once, done by the worker, looked at from any page until it is done.

A function that does such work takes the row and returns an ``Outcome``; ``core.progress.report_progress`` says how far it
is. It may run twice, where its worker was killed, so it writes all or nothing, and finds that its work is done.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Callable, Collection
from datetime import datetime, timedelta
from time import monotonic
from traceback import extract_tb
from typing import Any, Final

from django.db import IntegrityError, InterfaceError, OperationalError, connection, transaction
from django.http import HttpRequest
from django.utils import translation
from django.utils.module_loading import import_string
from django.utils.translation import gettext
from django_tasks import TaskContext, task

from core.access import roles_of
from core.exceptions import RefusedError
from core.models import LongWork, User
from core.progress import progress_to
from core.services.long_work import (
    PAGE,
    ROLES,
    Outcome,
    delete_old_work,
    finish_work,
    may_open,
    schools_in_reach,
    stopped_message,
)

logger = logging.getLogger(__name__)

IN_SESSION: Final = "work"  # whether pages ask how far it is
MOST_ATTEMPTS: Final = 2  # what killed two workers is not given to a third


WorkFunction = Callable[[LongWork, datetime], Outcome]


def queue_work(
    *,
    function: str,
    title: str,
    person: User,
    at: datetime,
    permission: str,
    schools: Collection[int] | None = None,
    arguments: dict[str, Any] | None = None,
) -> LongWork:
    """Queue it and return its row; where the same is being done for the same person already, that row.

    ``schools`` are those whose rows are in it, as far as the person's permission reaches where none are named.
    """
    delete_old_work(at=at)
    schools = schools_in_reach(user=person, permission=permission) if schools is None else sorted(schools)
    arguments = {**(arguments or {}), ROLES: sorted(roles_of(person))}
    text = json.dumps([function, person.pk, arguments], sort_keys=True)
    dedupe_key = hashlib.sha256(text.encode()).hexdigest()
    same = LongWork.objects.filter(dedupe_key=dedupe_key)
    if (going_on := same.open().first()) is not None:
        return going_on
    try:
        with transaction.atomic():
            row = LongWork.objects.create(
                function=function, title=title[:200], language=translation.get_language() or "en",
                arguments=arguments, dedupe_key=dedupe_key, person=person, permission=permission, schools=schools,
                queued_at=at,
            )  # fmt: skip
            run_work.enqueue(work=row.pk)
    except IntegrityError:  # a second click was faster
        return same.latest("queued_at")
    return row


def retry_work(row: LongWork, *, at: datetime) -> LongWork:
    return queue_work(
        function=row.function, title=row.title, person=row.person, at=at, permission=row.permission, schools=row.schools,
        arguments=row.arguments,
    )  # fmt: skip


@task(takes_context=True)
def run_work(context: TaskContext, *, work: int) -> None:
    """Do what was begun, unless it was done or given up meanwhile."""
    at = context.task_result.started_at
    row = LongWork.objects.open().select_related("person").filter(pk=work).first()
    if row is None or at is None:
        return
    if row.attempts >= MOST_ATTEMPTS:
        finish_work(row, at=at, is_failed=True, message=stopped_message())
        return
    begun = monotonic()

    def now() -> datetime:
        return at + timedelta(seconds=monotonic() - begun)

    def note(done: int, total: int, phase: str) -> None:
        if not connection.in_atomic_block:  # there nobody would see it before the end, and others would wait for it
            LongWork.objects.filter(pk=work).update(done=done, total=total, phase=phase[:120], reported_at=now())

    LongWork.objects.filter(pk=work).update(
        attempts=row.attempts + 1, started_at=at, reported_at=at, done=0, total=0, phase=""
    )
    with translation.override(row.language), progress_to(note):
        try:
            outcome = _function_of(row)(row, at)
        except RefusedError as refusal:
            begun_on = Outcome(url=row.arguments.get(PAGE, ""))
            finish_work(row, at=now(), outcome=begun_on, is_failed=True, message=str(refusal))
        except (OperationalError, InterfaceError):
            raise  # without a database nothing can be noted; after a time it is said to have stopped
        except Exception as error:  # noqa: BLE001  # whatever it was, its person is told
            # Its kind and where it came from only: its words may repeat what the rows say.
            where = " < ".join(
                f"{frame.filename}:{frame.lineno}" for frame in reversed(extract_tb(error.__traceback__))
            )
            kind = type(error).__name__
            logger.error("long work %s (%s) failed: %s at %s", work, row.function, kind, where)  # noqa: TRY400
            message = gettext("Something went wrong. The server's log says what.")
            finish_work(row, at=now(), is_failed=True, message=message)
        else:
            finish_work(row, at=now(), outcome=outcome)


def _function_of(row: LongWork) -> WorkFunction:
    if not may_open(row=row, user=row.person):
        raise RefusedError(gettext("Your roles no longer allow this."))
    function: WorkFunction = import_string(row.function)
    return function


def note_unseen_work(*, request: HttpRequest, user: User, **_more: object) -> None:
    """At a log-in, have the pages say what was begun before and is not looked at yet."""
    if LongWork.objects.visible_to(user).filter(seen_at=None).exists():
        request.session[IN_SESSION] = True
