"""How long a tap waited on a phone for a signal before it reached the server.

The phone says how long, not when: its clock may be wrong, but it measures a while well enough. What is on record as of
today was entered today, so an act is dated by its arrival; the log keeps beside it when it was tapped.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime, timedelta

from django.conf import settings
from django.http import HttpRequest

HEADER = "X-Queued"  # milliseconds, of a tap that a script sends from what was kept (static/js/tap-queue.js)
AT_ONCE = timedelta(minutes=1)  # sooner than this it did not wait
MOST_DIGITS = 12  # thirty years

_waited: ContextVar[timedelta] = ContextVar("waited", default=timedelta())


def waited_on_phone(request: HttpRequest) -> timedelta:
    """Return how long the tap says that it waited: at most as long as a phone keeps it; nothing where it says none."""
    header = request.headers.get(HEADER, "")
    longest = timedelta(hours=settings.DEVICE_HOURS)
    if not (header.isascii() and header.isdigit()):
        return timedelta()
    waited = min(timedelta(milliseconds=int(header[:MOST_DIGITS])), longest)
    return waited if waited >= AT_ONCE else timedelta()


@contextmanager
def waiting(request: HttpRequest) -> Iterator[None]:
    token = _waited.set(waited_on_phone(request))
    try:
        yield
    finally:
        _waited.reset(token)


def tapped_at(arrived_at: datetime, *, not_before: datetime | None = None) -> datetime:
    """Return when it was tapped that arrives now, which was not before what it is about began."""
    tapped = arrived_at - _waited.get()
    return max(tapped, min(not_before, arrived_at)) if not_before else tapped
