"""The condition of the fleet: verdicts, readiness, what it takes to playing condition, and the condition index, by group.

The same instruments and the same costs as in the inventory value, so that both pages name one index.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Literal, cast, get_args

from desk.selectors.value import Conditioned, Valued, trade_of, valued
from inventory.catalog.schema import Catalog
from inventory.models import FleetMonth, Instrument, School
from inventory.rules.value import age_on
from inventory.selectors.fleet import readiness_on
from inventory.selectors.past import AsOf
from inventory.selectors.school_sums import SchoolSums

AGES = (5, 10, 15, 20)  # years at which another group begins
UNKNOWN_AGE = -1


By = Literal["kinds", "levels", "ages", "funding"]


@dataclass
class Condition(Conditioned):
    """Instruments together."""

    instruments: int = 0
    verdicts: Counter[str] = field(default_factory=Counter)
    readiness: Counter[str] = field(default_factory=Counter)
    to_repair: int = 0  # not in playing condition
    minutes: float = 0.0  # at the bench, to playing condition
    repair: Decimal = Decimal("0.00")
    replacement: Decimal = Decimal("0.00")

    def count(self, one: Valued, *, verdict: str, readiness: str) -> None:
        self.instruments += 1
        self.verdicts[verdict] += 1
        self.readiness[readiness] += 1
        self.to_repair += one.repair > 0
        self.minutes += one.repair_minutes
        self.repair += one.repair
        self.replacement += one.replacement

    def add(self, other: Condition) -> None:
        self.instruments += other.instruments
        self.verdicts.update(other.verdicts)
        self.readiness.update(other.readiness)
        self.to_repair += other.to_repair
        self.minutes += other.minutes
        self.repair += other.repair
        self.replacement += other.replacement

    @property
    def hours(self) -> float:
        return self.minutes / 60


Groups = dict[By, dict[Hashable, Condition]]  # of one school: each of its instruments once by kind, once by level …


@dataclass(frozen=True)
class FleetCondition:
    """A day's condition by school and group."""

    today: date
    trade: Catalog
    schools: Mapping[int, Groups]

    @cached_property
    def by_school(self) -> dict[int, Condition]:
        found = {pk: together(groups["kinds"].values()) for pk, groups in self.schools.items()}
        return {pk: one for pk, one in found.items() if one.instruments}

    @cached_property
    def total(self) -> Condition:
        return together(self.by_school.values())

    def by(self, what: By) -> dict[Hashable, Condition]:
        found: dict[Hashable, Condition] = defaultdict(Condition)
        for groups in self.schools.values():
            for key, condition in groups[what].items():
                found[key].add(condition)
        return dict(found)


def together(some: Iterable[Condition]) -> Condition:
    total = Condition()
    for one in some:
        total.add(one)
    return total


def age_group(years: int | None) -> int:
    """Return the place of the group that an age belongs to: 0 under 5 years, 1 from 5, and so on."""
    return UNKNOWN_AGE if years is None else sum(years >= start for start in AGES)


def condition_of(*, schools: Collection[int] | None, today: date) -> FleetCondition:
    """Return the condition of the fleet at these schools, or anywhere: read again only where something has happened."""
    trade = trade_of(AsOf(today))
    where = School.objects.all() if schools is None else School.objects.filter(pk__in=schools)
    return FleetCondition(today, trade, _conditions.of(where, today=today, variant=trade))


def _read(schools: Collection[int], today: date, variant: Hashable) -> dict[int, Groups]:
    trade = cast("Catalog", variant)
    found = {pk: no_groups() for pk in schools}
    rows = Instrument.objects.filter(school__in=schools)
    columns = ("pk", "verdict", "now", "level", "funding_source")
    stands = {pk: values for pk, *values in rows.annotate(now=readiness_on(today)).order_by().values_list(*columns)}
    for one in valued(AsOf(today), trade=trade, rows=rows):
        history = one.history
        if history.pk not in stands:
            continue  # it came between the two reads; its event has the sum read again
        verdict, readiness, level, funding = stands[history.pk]
        age = age_on(year_made=history.year_made, acquired_on=history.acquired_on, day=today)
        keys: dict[By, Hashable] = {
            "kinds": history.kind_code,
            "levels": level,
            "ages": age_group(age),
            "funding": " ".join(funding.split()),
        }
        for what, key in keys.items():
            found[history.school_now][what][key].count(one, verdict=verdict, readiness=readiness)
    return found


def no_groups() -> Groups:
    return {what: defaultdict(Condition) for what in get_args(By)}


_conditions: SchoolSums[Groups] = SchoolSums(_read)


# Over time


@dataclass(frozen=True, slots=True)
class Month(Conditioned):
    """The sums of a month's last day."""

    ends_on: date
    instruments: int
    repair: Decimal
    replacement: Decimal


def months_of(*, schools: Collection[int] | None, most: int) -> list[Month]:
    """Return the last months that were kept, oldest first. One query."""
    rows = FleetMonth.objects.all() if schools is None else FleetMonth.objects.filter(school__in=schools)
    return [Month(*one) for one in reversed(rows.sums()[:most])]
