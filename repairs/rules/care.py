"""When care comes round: bath, oil, corks, pads, by kind and use. Due work is computed, never stored."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from inventory.catalog.schema import CareInterval, Catalog, Kind
from repairs.rules.day import SetUp, setup_minutes
from repairs.rules.effort import Range, pert_mean
from repairs.rules.open_jobs import DayStep


@dataclass(frozen=True, slots=True)
class CareFacts:
    """One instrument as care sees it. ``days_out`` are those with a student within the last year."""

    key: str
    kind: Kind
    registered_on: date
    options: Mapping[str, str] = field(default_factory=dict)
    days_out: int = 0
    done: Mapping[str, date] = field(default_factory=dict)  # interval code -> last time


@dataclass(frozen=True, slots=True)
class CareDue:
    """One piece of care that comes round on a day. ``last_on`` None: never recorded here, counted from registering."""

    key: str
    interval: CareInterval
    due_on: date
    last_on: date | None
    is_used_much: bool

    def days_over(self, *, today: date) -> int:
        """Return how many days it is overdue; negative while there is time."""
        return (today - self.due_on).days


def add_months(day: date, months: int) -> date:
    """Return the same day so many months later, or the last day of that month."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(years, month + 1, min(day.day, calendar.monthrange(years, month + 1)[1]))


def intervals_for(*, kind: Kind, options: Mapping[str, str], catalog: Catalog) -> tuple[CareInterval, ...]:
    """Return the care that an instrument of this kind with these options asks for, in the order of the catalog."""
    roles = {part.role for part in kind.parts_for(options)}
    return tuple(
        interval
        for interval in catalog.intervals.values()
        if (not interval.families or kind.family in interval.families)
        and kind.fits(interval)
        and (not interval.roles or roles.intersection(interval.roles))
        and kind.has_chosen(interval.only_with, options)
    )


def care_due(facts: CareFacts, *, catalog: Catalog, much_days: int) -> tuple[CareDue, ...]:
    """Return when each piece of care comes round for one instrument, the first due first.

    ``much_days``: lent out for so many days within the last year, the shorter interval counts.
    """
    is_used_much = facts.days_out >= much_days
    found = []
    for interval in intervals_for(kind=facts.kind, options=facts.options, catalog=catalog):
        months = interval.months if is_used_much else interval.idle_months
        if months:
            last_on = facts.done.get(interval.code)
            due_on = add_months(last_on or facts.registered_on, months)
            found.append(CareDue(facts.key, interval, due_on, last_on, is_used_much))
    return tuple(sorted(found, key=lambda one: (one.due_on, one.interval.code)))


def care_minutes(interval: CareInterval, *, catalog: Catalog) -> float:
    """Return the attended minutes of doing it to one instrument, on average."""
    method = catalog.methods.get(interval.method)
    low, likely, high = method.minutes if method else interval.minutes
    return pert_mean(Range(low=low, likely=likely, high=high))


@dataclass(frozen=True, slots=True)
class TogetherMinutes:
    """Attended minutes of one piece of care on several instruments, apart and set up once."""

    apart: float
    together: float

    @property
    def saved(self) -> float:
        return self.apart - self.together


def together_minutes(interval: CareInterval, *, count: int, catalog: Catalog) -> TogetherMinutes:
    """Return what ``count`` instruments take one by one, and one after another: the set-up is spared but once."""
    each = care_minutes(interval, catalog=catalog)
    step = DayStep(key=interval.code, method=interval.method or interval.code, say=interval.name, minutes=each)
    spared = setup_minutes(step, set_up=SetUp.of(catalog.settings)) * max(count - 1, 0)
    return TogetherMinutes(apart=each * count, together=each * count - spared)


def overdue(dues: Iterable[CareDue], *, today: date) -> tuple[CareDue, ...]:
    """Return what is due by today, the longest overdue first."""
    return tuple(sorted((one for one in dues if one.due_on <= today), key=lambda one: (one.due_on, one.key)))
