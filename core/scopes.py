"""What holds while a request is answered, a command runs or a task works: time zone, figures, whatever apps above add.

Nothing is taken back at the end: a thread's next request enters again, and what a view streams comes after it returned.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

_entries: list[Callable[[datetime], None]] = []


def register(enter: Callable[[datetime], None]) -> None:
    """Add what is called with the moment when something begins; the same twice counts once."""
    if enter not in _entries:
        _entries.append(enter)


def enter_all(at: datetime) -> None:
    for enter in _entries:
        enter(at)
