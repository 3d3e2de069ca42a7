"""One act, one pass: a service and all it calls share one transaction, and what follows is done once, at its end.

Locks are taken in one order everywhere, or two acts could wait for each other for ever: instruments by primary key,
then their rows, then stock, last the head of the event log.
"""

from __future__ import annotations

import logging
import random
import time
from collections.abc import Callable, Hashable
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime
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
LOCK_TROUBLE = {"40001", "40P01"}  # serialization failure, deadlock detected
UNIQUE_VIOLATION = "23505"


@dataclass(slots=True)
class Act:
    """The outermost service that is running: who does it, when, and what is left for its end."""

    actor: User | None
    at: datetime | None
    rows: dict[tuple[type[models.Model], Any], models.Model] = field(default_factory=dict)  # locked, in step
    memory: dict[Hashable, Any] = field(default_factory=dict)  # of the rooms above, for as long as the act runs
    _follow_ups: dict[Hashable, Callable[[], None]] = field(default_factory=dict)
    _last: dict[Hashable, Callable[[], None]] = field(default_factory=dict)

    def at_end(self, key: Hashable, step: Callable[[], None], *, last: bool = False) -> None:
        """Do ``step`` once when the service is done, however often it is asked for; ``last``: after all others."""
        (self._last if last else self._follow_ups).setdefault(key, step)

    def finish(self) -> None:
        for steps in (self._follow_ups, self._last):
            while steps:
                steps.pop(next(iter(steps)))()


_running: ContextVar[Act | None] = ContextVar("running_act", default=None)


def current_act() -> Act:
    """Return the act that is running; RuntimeError outside of a service."""
    act = _running.get()
    if act is None:
        raise RuntimeError("only a service does this: decorate the function with @service")
    return act


@overload
def service(function: Callable[P, R], /) -> Callable[P, R]: ...


@overload
def service(*, once: str, again: Callable[..., Any] | None = None) -> Callable[[Callable[P, R]], Callable[P, R]]: ...


def service(
    function: Callable[P, R] | None = None, /, *, once: str = "", again: Callable[..., Any] | None = None
) -> Callable[P, R] | Callable[[Callable[P, R]], Callable[P, R]]:
    """Run the function as one act: one transaction, all of it or nothing; services it calls join.

    A deadlock, a locked database or a unique key that somebody else was faster to take runs the whole act again, so it
    reads everything afresh and must not change what it was passed. After the last try BusyError or OvertakenError.

    ``once`` names the parameter with the posted form's key (None: nothing to guard). The same form again changes
    nothing and returns the row that it made; UsedFormError when it comes about other rows. Where a service returns
    anything but a row, ``again`` makes the answer from the row (None if there was none) and the arguments.
    """
    if function is None:
        return lambda decorated: _as_act(decorated, once=once, again=again)
    return _as_act(function, once="", again=None)


def _as_act(function: Callable[P, R], *, once: str, again: Callable[..., Any] | None) -> Callable[P, R]:
    @wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        if _running.get() is not None:
            # No savepoint: a refusal that somebody up there swallows must not leave half an act behind.
            with transaction.atomic(savepoint=False):
                return function(*args, **kwargs)
        form = _Form.of(function.__qualname__, kwargs.get(once), kwargs) if once else None
        for tries in range(1, TRIES + 1):
            try:
                return _once_through(function, args, kwargs, form=form, again=again, is_retry=tries > 1)
            except (OperationalError, IntegrityError) as error:
                if not _may_go_better(error):
                    raise
                if tries == TRIES:
                    logger.exception("%s failed %d times", function.__qualname__, TRIES)
                    raise (BusyError if is_lock_trouble(error) else OvertakenError) from error
            time.sleep(FIRST_PAUSE_S * 2**tries * random.random())  # noqa: S311  # so that two do not meet again
        raise AssertionError  # pragma: no cover

    return run


def _once_through(
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
            _running.reset(token)  # before the commit: what waits for it is an act of its own


def sqlstate(error: Exception) -> str:
    """The database's own code for what went wrong; "" on SQLite, which has none."""
    return str(getattr(error.__cause__, "sqlstate", None) or "")


def is_lock_trouble(error: Exception) -> bool:
    """Whether somebody else's transaction was in the way, not the statement itself."""
    if not isinstance(error, OperationalError):
        return False
    return sqlstate(error) in LOCK_TROUBLE or "database is locked" in str(error)


def _may_go_better(error: Exception) -> bool:
    if is_lock_trouble(error):
        # Inside somebody's transaction only that one can begin again.
        return not connection.in_atomic_block
    return sqlstate(error) == UNIQUE_VIOLATION or str(error).startswith("UNIQUE constraint failed")


@dataclass(slots=True)
class _Form:
    """A posted form on its way through an act: claimed first, so that its twin waits; its result kept last."""

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
        """Return what the form led to when it was posted before, or write that it is being posted now.

        Its twin waits for the unique key until this act is through, and finds the row in its second try.
        """
        known = PostedForm.objects.filter(key=self.key).first() if is_retry else None
        if known is None:
            if at is None:
                raise TypeError(f"nobody said when {self.service} was posted")
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


Row = TypeVar("Row", bound=models.Model)


def lock_row(row: Row, *related: str) -> Row:
    """The row as it is now, with related rows joined, locked until the act ends. DoesNotExist when it is gone."""
    rows = type(row)._default_manager.select_for_update(of=("self",), no_key=True)
    fresh: Row = rows.select_related(*related).get(pk=row.pk) if related else rows.get(pk=row.pk)
    return fresh
