"""When care comes round: bath, oil, corks, pads, by kind and use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from core.days import add_months
from inventory.catalog.schema import CareInterval, Catalog, Kind
from repairs.rules.day import TogetherMinutes, setup_minutes
from repairs.rules.effort import Range, SetUp, pert_mean
from repairs.rules.open_jobs import DayStep


@dataclass(frozen=True, slots=True)
class CareFacts:
    """One instrument as care sees it."""

    key: str
    kind: Kind
    registered_on: date
    options: Mapping[str, str] = field(default_factory=dict)
    done: Mapping[str, date] = field(default_factory=dict)  # interval code -> last time


@dataclass(frozen=True, slots=True)
class CareDates:
    """When one piece of care comes round: lent out much, or mostly in storage; None: never.

    ``last_on`` None: never recorded here, counted from registering.
    """

    code: str
    last_on: date | None
    much_on: date | None
    idle_on: date | None


def intervals_for(*, kind: Kind, options: Mapping[str, str], catalog: Catalog) -> tuple[CareInterval, ...]:
    """Return the care that an instrument of this kind with these options asks for, in the order of the catalog."""
    roles = {part.role for part in kind.built(options).parts}
    return tuple(
        interval
        for interval in catalog.intervals.values()
        if (not interval.families or kind.family in interval.families)
        and kind.fits(interval)
        and (not interval.roles or roles.intersection(interval.roles))
        and kind.has_chosen(interval.only_with, options)
    )


def care_dates(facts: CareFacts, *, catalog: Catalog) -> tuple[CareDates, ...]:
    """Return when each piece of care that one instrument asks for comes round, in the order of the catalog."""

    def after(months: int, *, code: str) -> date | None:
        return add_months(facts.done.get(code, facts.registered_on), months) if months else None

    return tuple(
        CareDates(
            code=one.code,
            last_on=facts.done.get(one.code),
            much_on=after(one.months, code=one.code),
            idle_on=after(one.idle_months, code=one.code),
        )
        for one in intervals_for(kind=facts.kind, options=facts.options, catalog=catalog)
    )


def care_minutes(interval: CareInterval, *, catalog: Catalog) -> float:
    """Return the attended minutes of doing it to one instrument, on average."""
    method = catalog.methods.get(interval.method)
    return pert_mean(Range(*(method or interval).minutes))


def together_minutes(interval: CareInterval, *, count: int, catalog: Catalog) -> TogetherMinutes:
    """Return what ``count`` instruments take one by one, and one after another: the set-up is spared but once."""
    each = care_minutes(interval, catalog=catalog)
    step = DayStep(key=interval.code, method=interval.method or interval.code, say=interval.name, minutes=each)
    spared = setup_minutes(step, set_up=SetUp.of(catalog.settings)) * max(count - 1, 0)
    return TogetherMinutes(apart=each * count, saved=spared)
