"""What a fiscal year added to the fleet, took from it and moved between schools, and what each school held before and after."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterator
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from decimal import Decimal
from typing import cast

from desk.selectors.value import trade_of, value_on
from inventory.catalog.schema import Catalog
from inventory.models import Instrument, School
from inventory.selectors.past import AsOf, History, ever_at, histories
from inventory.selectors.school_sums import SchoolSums

ADDED, TRANSFERRED, DISPOSED = "added", "transferred", "disposed"
SHOWN = 50  # of each sort on the page; the file has all


@dataclass(frozen=True, slots=True)
class Movement:
    """An instrument that came, went or changed its school. Where it came from or went to, None is outside."""

    way: str
    history: History
    on: date
    school_from: int | None
    school_to: int | None
    cost: Decimal
    book: Decimal  # at the end of the day

    def touches(self, schools: Collection[int] | None) -> bool:
        return schools is None or bool({self.school_from, self.school_to} & {*schools})


@dataclass
class Count:
    instruments: int = 0
    cost: Decimal = Decimal("0.00")

    def count(self, cost: Decimal) -> None:
        self.instruments += 1
        self.cost += cost

    def add(self, other: Count) -> None:
        self.instruments += other.instruments
        self.cost += other.cost


@dataclass
class SchoolYear:
    """A school's fiscal year: opening + added + received - sent - disposed = closing."""

    opening: Count = field(default_factory=Count)
    added: Count = field(default_factory=Count)
    received: Count = field(default_factory=Count)
    sent: Count = field(default_factory=Count)
    disposed: Count = field(default_factory=Count)
    closing: Count = field(default_factory=Count)

    def add(self, other: SchoolYear) -> None:
        for one in fields(self):
            getattr(self, one.name).add(getattr(other, one.name))


@dataclass
class FiscalYear:
    first: date
    last: date
    schools: dict[int, SchoolYear] = field(default_factory=lambda: defaultdict(SchoolYear))
    counts: dict[str, Count] = field(default_factory=lambda: defaultdict(Count))
    shown: dict[str, list[Movement]] = field(default_factory=lambda: defaultdict(list))

    def follow(self, one: History, *, trade: Catalog, schools: Collection[int] | None = None) -> None:
        """Count one instrument; of its movements those that touch these schools."""
        before, cost = self.first - timedelta(days=1), one.cost or Decimal(0)
        if one.is_held(before):
            self.schools[one.school_on(before)].opening.count(cost)
        if one.is_held(self.last):
            self.schools[one.school_on(self.last)].closing.count(cost)
        for movement in _of(one, first=self.first, last=self.last, trade=trade):
            if movement.touches(schools):
                self.note(movement)

    def add(self, other: FiscalYear) -> None:
        """Count what another part of the fleet did in the same year."""
        for pk, year in other.schools.items():
            self.schools[pk].add(year)
        for way, count in other.counts.items():
            self.counts[way].add(count)
        for way, some in other.shown.items():
            self.shown[way] = sorted([*self.shown[way], *some], key=lambda one: one.history.asset_number)[:SHOWN]

    def note(self, movement: Movement) -> None:
        self.counts[movement.way].count(movement.cost)
        if len(self.shown[movement.way]) < SHOWN:
            self.shown[movement.way].append(movement)
        if movement.school_from is not None:
            year = self.schools[movement.school_from]
            (year.disposed if movement.way == DISPOSED else year.sent).count(movement.cost)
        if movement.school_to is not None:
            year = self.schools[movement.school_to]
            (year.added if movement.way == ADDED else year.received).count(movement.cost)


def fiscal_year_of(first: date, last: date, *, schools: Collection[int] | None = None) -> FiscalYear:
    """Return the sums of a fiscal year and the first rows of each sort, as the records stand now."""
    year, as_of = FiscalYear(first=first, last=last), AsOf(last)
    trade = trade_of(as_of)
    for some in histories(as_of, rows=None if schools is None else ever_at(schools)):
        for one in some:
            year.follow(one, trade=trade, schools=schools)
    if schools is not None:
        year.schools = {pk: one for pk, one in year.schools.items() if pk in schools}
    return year


def fiscal_year_kept(first: date, last: date, *, today: date) -> FiscalYear:
    """Return the same for the district, counted again only for schools where something has happened since."""
    year = FiscalYear(first=first, last=last)
    for some in _years.of(School.objects.all(), today=today, variant=(first, last)).values():
        year.add(some)
    return year


def _read(schools: Collection[int], _today: date, variant: Hashable) -> dict[int, FiscalYear]:
    """Return by school what came of the instruments that are there now, wherever they were then."""
    first, last = cast("tuple[date, date]", variant)
    found = {school: FiscalYear(first=first, last=last) for school in schools}
    as_of = AsOf(last)
    trade = trade_of(as_of)
    for some in histories(as_of, rows=Instrument.objects.filter(school__in=schools)):
        for one in some:
            found[one.school_now].follow(one, trade=trade)
    return found


_years: SchoolSums[FiscalYear] = SchoolSums(_read)


def movements(first: date, last: date, *, schools: Collection[int] | None = None) -> Iterator[Movement]:
    """Yield everything that came, went or moved from one day to another, by number."""
    as_of = AsOf(last)
    trade = trade_of(as_of)
    for some in histories(as_of, rows=None if schools is None else ever_at(schools)):
        for one in some:
            yield from (found for found in _of(one, first=first, last=last, trade=trade) if found.touches(schools))


def _of(one: History, *, first: date, last: date, trade: Catalog) -> Iterator[Movement]:
    """Yield what happened to one between two days: how it came, where it went at last, whether it is gone."""
    before = first - timedelta(days=1)
    here = one.school_on(before) if one.is_held(before) else None

    def movement(way: str, on: date, start: int | None, end: int | None) -> Movement:
        valued = value_on(one, day=on, trade=trade)
        cost = one.cost or Decimal(0)
        return Movement(way=way, history=one, on=on, school_from=start, school_to=end, cost=cost, book=valued.book)

    if here is None:
        came_on = _came_on(one, first=first, last=last)
        if came_on is None:
            return
        here = one.school_on(came_on)
        yield movement(ADDED, came_on, None, here)
    gone_on = one.gone_on(last)
    at_last = one.school_on(gone_on or last)
    if at_last != here:
        moved_on = max(day for day, _ in one.schools if day <= (gone_on or last))
        yield movement(TRANSFERRED, moved_on, here, at_last)
    if gone_on is not None:
        yield movement(DISPOSED, gone_on, at_last, None)


def _came_on(one: History, *, first: date, last: date) -> date | None:
    """Return the day on which it came within the year, or came back; None if it was not here at all."""
    if first <= one.begun_on <= last:
        return one.begun_on
    back = [until for _, until in one.gone if until is not None and first <= until <= last]
    return max(back, default=None) if one.begun_on <= last else None
