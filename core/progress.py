"""How far long work is: said by whoever does it, wherever that is; heard only while the worker does it.

``counted(rows, total=...)`` says it of whatever is iterated over.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import monotonic
from typing import TypeVar

Row = TypeVar("Row")
Hears = Callable[[int, int, str], None]  # done, total (0: not known), what is being done

AT_MOST_EVERY = 1.0  # seconds
_hears: ContextVar[Hears | None] = ContextVar("progress", default=None)


@contextmanager
def heard_by(hears: Hears) -> Iterator[None]:
    """Hand on what is said meanwhile, once a second at most, but each new phase and the end at once."""
    latest, phase_before = float("-inf"), ""

    def hear(done: int, total: int, phase: str) -> None:
        nonlocal latest, phase_before
        now = monotonic()
        if now - latest >= AT_MOST_EVERY or phase != phase_before or (total and done >= total):
            latest, phase_before = now, phase
            hears(done, total, phase)

    token = _hears.set(hear)
    try:
        yield
    finally:
        _hears.reset(token)


def say_progress(done: int = 0, total: int = 0, *, phase: str = "") -> None:
    """Say how far it is. Costs nothing where nobody listens."""
    hear = _hears.get()
    if hear is not None:
        hear(done, total, phase)


def is_heard() -> bool:
    return _hears.get() is not None


def counted(rows: Iterable[Row], *, total: int, phase: str = "") -> Iterator[Row]:
    """Pass the rows on and say how many went by."""
    for done, row in enumerate(rows, start=1):
        yield row
        say_progress(done, total, phase=phase)
