"""What an app above does for one below, which must not import it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Generic, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class Hook(Generic[P, T]):
    """Called below; the one function it calls is set at start-up, by the app that owns the answer."""

    _function: Callable[P, T]

    def set(self, function: Callable[P, T]) -> None:
        self._function = function

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> T:
        return self._function(*args, **kwargs)


# Enters what holds from a moment on, while a request is answered, a command runs or a task works: time zone and figures.
# Nothing is taken back at the end: the next request enters again, and what a view streams comes after it returned.
enter_all: Hook[[datetime], None] = Hook()
