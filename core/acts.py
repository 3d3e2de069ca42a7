"""One act, one pass: a service and everything it calls share one transaction; follow-up work runs once, at the end.

Locks are taken in the same order everywhere, or two acts could deadlock: instruments by primary key, then their rows,
then stock, last the head of the event log.
"""

from __future__ import annotations

import logging
import random
import time
from collections.abc import Callable, Hashable
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import wraps
from typing import Any, ParamSpec, TypeVar, cast, overload

from django.db import IntegrityError, OperationalError, connection, models, transaction

from core.exceptions import BusyError, OvertakenError, UsedFormError
from core.models import PostedForm, User

P = ParamSpec("P")
R = TypeVar("R")

logger = logging.getLogger(__name__)

TRIES = 6
FIRST_PAUSE_S = 0.02
KEPT_FOR = timedelta(days=30)
LOCK_TROUBLE = {"40001", "40P01"}  # serialization failure, deadlock detected
UNIQUE_VIOLATION = "23505"


@dataclass(slots=True)
class Act:
    """The outermost running service: who, when, and what is left to do at its end."""

    actor: User | None
    at: datetime | None
    rows: dict[tuple[type[models.Model], Any], models.Model] = field(default_factory=dict)  # locked, kept current
    memory: dict[Hashable, Any] = field(default_factory=dict)  # for the apps above, while the act runs
    _follow_ups: dict[Hashable, Callable[[], object]] = field(default_factory=dict)
    _last: dict[Hashable, Callable[[], object]] = field(default_factory=dict)

    def at_end(self, key: Hashable, step: Callable[[], object], *, last: bool = False) -> None:
        """Run ``step`` once when the service is done, however often it is requested; ``last``: after all others."""
        (self._last if last else self._follow_ups).setdefault(key, step)

    def finish(self) -> None:
        # What a last step asks for runs as well: a step is taken out before it runs, so it may be asked for once more.
        while steps := self._follow_ups or self._last:
            steps.pop(next(iter(steps)))()


_running: ContextVar[Act | None] = ContextVar("running_act", default=None)


def is_acting() -> bool:
    """Whether a service is running."""
    return _running.get() is not None


def current_act() -> Act:
    """Return the running act; RuntimeError outside a service."""
    act = _running.get()
    if act is None:
        raise RuntimeError("only a service may do this: decorate the function with @service")
    return act


@overload
def service(function: Callable[P, R], /) -> Callable[P, R]: ...


@overload
def service(*, once: str, again: Callable[..., Any] | None = None) -> Callable[[Callable[P, R]], Callable[P, R]]: ...


def service(
    function: Callable[P, R] | None = None, /, *, once: str = "", again: Callable[..., Any] | None = None
) -> Callable[P, R] | Callable[[Callable[P, R]], Callable[P, R]]:
    """Run the function as one act, in one transaction that the services it calls join.

    After a deadlock, a locked database or a unique key that somebody else took first, the whole act runs again. So it
    must read everything afresh and must not change its arguments or use up an iterator among them. After the last try:
    BusyError or OvertakenError.

    ``once`` names the parameter with the posted form's key (None: nothing to guard). Posting the same form again
    changes nothing and returns the row it made; UsedFormError if it is about other rows. If a service returns anything
    but a row, ``again`` builds the result from the row (None if there was none) and the arguments.
    """
    if function is None:
        return lambda decorated: _as_act(decorated, once=once, again=again)
    return _as_act(function, once="", again=None)


def _as_act(function: Callable[P, R], *, once: str, again: Callable[..., Any] | None) -> Callable[P, R]:
    @wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        if is_acting():
            # No savepoint: a refusal swallowed by a caller must not leave half an act behind.
            with transaction.atomic(savepoint=False):
                return function(*args, **kwargs)
        form = _Form.of(function.__qualname__, kwargs.get(once), kwargs) if once else None
        for tries in range(1, TRIES + 1):
            try:
                return _run_once(function, args, kwargs, form=form, again=again, is_retry=tries > 1)
            except (OperationalError, IntegrityError) as error:
                if not _is_worth_retrying(error):
                    raise
                if tries == TRIES:
                    logger.exception("%s failed %d times", function.__qualname__, TRIES)
                    raise (BusyError if is_lock_trouble(error) else OvertakenError) from error
            if not connection.in_atomic_block:  # a caller's transaction holds its locks meanwhile
                time.sleep(FIRST_PAUSE_S * 2**tries * random.random())  # noqa: S311  # jitter
        raise AssertionError  # pragma: no cover

    return run


def _run_once(
    function: Callable[..., R],
    args: tuple[Any, ...],
    kwargs: dict[str, Any],
    *,
    form: _Form | None,
    again: Callable[..., Any] | None,
    is_retry: bool,
) -> R:
    act = Act(actor=kwargs.get("actor"), at=kwargs.get("at"))
    with transaction.atomic():
        token = _running.set(act)
        try:
            if form is not None and (known := form.claim(at=act.at, actor=act.actor, is_retry=is_retry)):
                row = known.result()
                return cast("R", again(row, **kwargs) if again else row)
            result = function(*args, **kwargs)
            if form is not None:
                form.keep(result)
            act.finish()
            return result
        finally:
            _running.reset(token)  # before the commit: on_commit hooks are acts of their own


def sqlstate(error: Exception) -> str:
    """Return the database's error code; "" on SQLite, which has none."""
    return str(getattr(error.__cause__, "sqlstate", None) or "")


def is_lock_trouble(error: Exception) -> bool:
    """Whether another transaction was in the way, rather than the statement being wrong."""
    if not isinstance(error, OperationalError):
        return False
    return sqlstate(error) in LOCK_TROUBLE or "database is locked" in str(error)


def _is_worth_retrying(error: Exception) -> bool:
    if is_lock_trouble(error):
        # Inside a caller's transaction, only the caller can start over.
        return not connection.in_atomic_block
    # Inside a caller's transaction too: the savepoint took this try back, and the next one sees what is committed.
    return sqlstate(error) == UNIQUE_VIOLATION or str(error).startswith("UNIQUE constraint failed")


def forget_old_forms(*, at: datetime) -> int:
    """Delete the keys of forms posted KEPT_FOR ago, and return how many: no page is still open to post one again."""
    count, _ = PostedForm.objects.filter(posted_at__lt=at - KEPT_FOR).delete()
    return count


@dataclass(slots=True)
class _Form:
    """A posted form in an act: claimed first, so that a duplicate waits; its result stored last."""

    key: str
    service: str
    about: str
    row: PostedForm | None = None

    @classmethod
    def of(cls, name: str, key: object, kwargs: dict[str, Any]) -> _Form | None:
        if not key:
            return None
        about = [
            f"{word}={value._meta.label_lower}:{value.pk}"
            for word, value in sorted(kwargs.items())
            if isinstance(value, models.Model) and word != "actor"
        ]
        return cls(key=str(key), service=name, about=" ".join(about)[:300])

    def claim(self, *, at: datetime | None, actor: User | None, is_retry: bool) -> PostedForm | None:
        """Return what the form led to if it was posted before; otherwise record that it is being posted now.

        A duplicate waits for the unique key until this act is done, and finds the row on its second try.
        """
        known = PostedForm.objects.filter(key=self.key).first() if is_retry else None
        if known is None:
            if at is None:
                raise TypeError(f"{self.service} was called without `at`")
            self.row = PostedForm.objects.create(
                key=self.key, service=self.service, about=self.about, actor=actor, posted_at=at
            )
            return None
        if (known.service, known.about) != (self.service, self.about):
            raise UsedFormError
        return known

    def keep(self, result: object) -> None:
        if self.row is not None and isinstance(result, models.Model):
            PostedForm.objects.filter(pk=self.row.pk).update(
                result_type=result._meta.label_lower, result_id=str(result.pk)
            )


def lock_name(name: str) -> None:
    """Let one act at a time past here, until it ends, for what no row stands for. SQLite lets one write at a time."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [name])


Row = TypeVar("Row", bound=models.Model)


def lock_row(row: Row, *related: str) -> Row:
    """Return the row as it is now, related rows joined, locked until the act ends. DoesNotExist if it is gone."""
    rows = type(row)._default_manager.select_for_update(of=("self",), no_key=True)
    fresh: Row = rows.select_related(*related).get(pk=row.pk) if related else rows.get(pk=row.pk)
    return fresh
