"""Sums over all the rows of a school, kept in this process until something happens at that school."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable
from datetime import date
from typing import Any, Generic, TypeVar

from django.db.models import OuterRef, QuerySet, Subquery

from core.models import Event
from inventory.models import School
from inventory.selectors.figures import entered

Value = TypeVar("Value")
MOST_KEPT = 5000  # values; a school has one for each variant and process

_all: list[SchoolSums] = []  # type: ignore[type-arg]  # of whatever value


class SchoolSums(Generic[Value]):
    """``read(schools, today, variant)`` returns a value for each of the schools; it is called for those that are stale.

    A value is stale on another day, under other figures of the district, after an event of its school, and after an
    instrument left the school: nothing that a page sums up changes without one of these. What an event changed is
    committed with it, so a sum read after the event was seen has the change in it.
    """

    def __init__(self, read: Callable[[Collection[int], date, Hashable], dict[int, Value]]) -> None:
        self._read = read
        self._kept: dict[tuple[int, Hashable], tuple[object, Value]] = {}
        _all.append(self)

    def of(self, schools: QuerySet[School], *, today: date, variant: Hashable = None) -> dict[int, Value]:
        """Return the value of each school. One query, and those of ``read`` when some are stale."""
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
        if stale:
            read = self._read(stale, today, variant)
            if len(self._kept) > MOST_KEPT:
                self._kept.clear()
            for pk in stale:
                if stamps[pk][1] is not None:  # rows without any event were not made by a service
                    self._kept[pk, variant] = (stamps[pk], read[pk])
            kept |= read
        return kept

    def forget(self) -> None:
        self._kept.clear()


def _stamped(schools: QuerySet[School]) -> Any:
    latest = Event.objects.filter(tenant=OuterRef("pk")).order_by("-number").values("number")[:1]
    return schools.order_by().annotate(latest=Subquery(latest))


def forget_sums() -> None:
    """Drop everything kept: for whoever writes rows past the services."""
    for sums in _all:
        sums.forget()
