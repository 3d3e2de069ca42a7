"""Sums over all the rows of a school, kept in this process until something happens at that school."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from time import monotonic
from typing import Any, Generic, TypeVar

from django.db.models import Count, OuterRef, QuerySet, Subquery

from core.models import Event
from inventory.models import Instrument, School
from inventory.selectors.figures import entered

Value = TypeVar("Value")
MOST_KEPT = 5000  # values; a school has one for each variant and process

AT_ONCE = 2000  # instruments that are read before it is asked whether time is up
_deadline: ContextVar[float | None] = ContextVar("deadline", default=None)

_all: list[SchoolSums] = []  # type: ignore[type-arg]  # of whatever value


class UnfinishedError(Exception):
    """Time was up before every school was read; those that were read are kept."""

    def __init__(self, *, done: int, total: int) -> None:
        super().__init__(f"{done} of {total} schools")
        self.done, self.total = done, total


@contextmanager
def totals_within(seconds: float) -> Iterator[None]:
    """Let sums raise UnfinishedError once so much time has passed; each try gets further, by a school at least."""
    token = _deadline.set(monotonic() + seconds)
    try:
        yield
    finally:
        _deadline.reset(token)


class SchoolSums(Generic[Value]):
    """``read(schools, today, variant)`` returns a value for each of the schools; it is called for those that are stale.

    A value is stale on another day, under other figures of the district, after an event of its school, and after an
    instrument left the school: nothing that a page sums up changes without one of these. What an event changed is
    committed with it, so a sum read after the event was seen has the change in it.
    """

    def __init__(
        self, read: Callable[[Collection[int], date, Hashable], dict[int, Value]], *, at_once: int | None = None
    ) -> None:
        """``at_once``: instruments that are read together where time is short; more where a query costs more than rows."""
        self._read = read
        self._at_once = at_once
        self._kept: dict[tuple[int, Hashable], tuple[object, Value]] = {}
        _all.append(self)

    def of(self, schools: QuerySet[School], *, today: date, variant: Hashable = None) -> dict[int, Value]:
        """Return the value of each school. One query, and those of ``read`` when some are stale.

        UnfinishedError where time is up (``totals_within``).
        """
        figures = entered()
        stamps = {
            pk: (today, *stamp, figures)
            for pk, *stamp in _stamped(schools).values_list("pk", "latest", "instrument_left_at")
        }
        kept = {
            pk: found[1]
            for pk, stamp in stamps.items()
            if (found := self._kept.get((pk, variant))) and found[0] == stamp
        }
        stale = [pk for pk in stamps if pk not in kept]
        for some in _portions(stale, at_once=self._at_once or AT_ONCE):
            read = self._read(some, today, variant)
            if len(self._kept) > MOST_KEPT:
                self._kept.clear()
            for pk in some:
                if stamps[pk][1] is not None:  # rows without any event were not made by a service
                    self._kept[pk, variant] = (stamps[pk], read[pk])
            kept |= read
            deadline = _deadline.get()
            if deadline is not None and monotonic() > deadline and len(kept) < len(stamps):
                raise UnfinishedError(done=len(kept), total=len(stamps))
        return kept

    def forget(self) -> None:
        self._kept.clear()


def _portions(schools: list[int], *, at_once: int) -> Iterator[list[int]]:
    """Yield them all together, or where time is short some at a time. One query then."""
    if len(schools) < 2 or _deadline.get() is None:
        yield from [schools] if schools else []
        return
    rows = Instrument.objects.filter(school__in=schools).order_by().values_list("school")
    counts = dict(rows.annotate(n=Count("pk")))
    some: list[int] = []
    there = 0
    for pk in schools:
        there += counts.get(pk, 0)
        if some and there > at_once:
            yield some
            some, there = [], counts.get(pk, 0)
        some.append(pk)
    yield some


def _stamped(schools: QuerySet[School]) -> Any:
    latest = Event.objects.filter(tenant=OuterRef("pk")).order_by("-number").values("number")[:1]
    return schools.order_by().annotate(latest=Subquery(latest))


def forget_sums() -> None:
    """Drop everything kept: for whoever writes rows past the services."""
    for sums in _all:
        sums.forget()
