"""How far long work is: reported by whatever does it, passed on only while the worker does it.

``counted(rows, total=...)`` says it of whatever is iterated over.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import monotonic
from typing import TypeVar

Row = TypeVar("Row")
Listener = Callable[[int, int, str], None]  # done, total (0: not known), what is being done

AT_MOST_EVERY = 1.0  # seconds
_listener: ContextVar[Listener | None] = ContextVar("progress", default=None)


@contextmanager
def progress_to(listener: Listener) -> Iterator[None]:
    """Hand on what is said meanwhile, once a second at most, but each new phase and the end at once."""
    latest, phase_before = float("-inf"), ""

    def pass_on(done: int, total: int, phase: str) -> None:
        nonlocal latest, phase_before
        now = monotonic()
        if now - latest >= AT_MOST_EVERY or phase != phase_before or (total and done >= total):
            latest, phase_before = now, phase
            listener(done, total, phase)

    token = _listener.set(pass_on)
    try:
        yield
    finally:
        _listener.reset(token)


def report_progress(done: int = 0, total: int = 0, *, phase: str = "") -> None:
    """Say how far it is. Costs nothing where nobody listens."""
    listener = _listener.get()
    if listener is not None:
        listener(done, total, phase)


def has_listener() -> bool:
    return _listener.get() is not None


def counted(rows: Iterable[Row], *, total: int, phase: str = "") -> Iterator[Row]:
    """Pass the rows on and say how many went by."""
    for done, row in enumerate(rows, start=1):
        yield row
        report_progress(done, total, phase=phase)
