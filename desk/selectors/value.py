"""What the fleet is worth on a day, and what a fiscal year added to it and took from it.

One pass over the instruments, some at a time: memory does not grow with the fleet. Each amount is rounded to the cent
for the instrument, then summed, so that every sum is that of its lines.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import cast

from django.db.models import QuerySet

from core.money import cents
from inventory.catalog.schema import Catalog
from inventory.models import Instrument, School
from inventory.rules.depreciation import Asset, Composite, book_on, composite, group_book
from inventory.rules.value import (
    Band,
    Treatment,
    ValueFacts,
    age_on,
    as_is_amount,
    condition_index,
    index_band,
    middle_life,
    middle_price,
    price_on,
    treatment,
)
from inventory.selectors.figures import catalog_on
from inventory.selectors.past import AsOf, History, ever_at, findings_on, histories, inspected_on, moved_away
from inventory.selectors.school_sums import SchoolSums
from repairs.selectors.standard_cost import NOTHING, Work, standard_work


@dataclass(frozen=True, slots=True)
class Valued:
    """One instrument with what it is worth on a day. Dollars."""

    history: History
    school: int  # where it was on the day
    cost: Decimal | None
    book: Decimal
    group_book: Decimal  # as a member of its kind, at the close of the fiscal year
    salvage: Decimal
    life_years: Decimal | int
    replacement: Decimal
    is_kind_price: bool  # no figure was given for it: the midpoint of the kind's price range
    repair: Decimal  # cost to playing condition
    repair_minutes: float  # at the bench
    condition_adjusted: Decimal
    treatment: Treatment
    is_inspected: bool


class Conditioned:
    """The condition index of what has both sums."""

    repair: Decimal
    replacement: Decimal

    @property
    def index(self) -> Decimal | None:
        return condition_index(repair_amount=self.repair, replacement_amount=self.replacement)

    def band(self, settings: Mapping[str, Decimal]) -> Band | None:
        return None if self.index is None else index_band(self.index, settings=settings)


@dataclass
class Sums(Conditioned):
    """What instruments come to together."""

    instruments: int = 0
    acquisition: Decimal = Decimal("0.00")
    book: Decimal = Decimal("0.00")
    group_book: Decimal = Decimal("0.00")
    replacement: Decimal = Decimal("0.00")
    repair: Decimal = Decimal("0.00")
    condition_adjusted: Decimal = Decimal("0.00")
    capital: int = 0
    capital_amount: Decimal = Decimal("0.00")
    capital_book: Decimal = Decimal("0.00")
    supply: int = 0
    supply_amount: Decimal = Decimal("0.00")
    without_cost: int = 0
    without_day: int = 0  # nobody knows when it came: counted from the day it was registered
    by_kind_price: int = 0
    not_inspected: int = 0  # counted as if they played

    def count(self, one: Valued) -> None:
        self.instruments += 1
        self.book += one.book
        self.group_book += one.group_book
        self.replacement += one.replacement
        self.repair += one.repair
        self.condition_adjusted += one.condition_adjusted
        self.without_day += one.history.acquired_on is None
        self.by_kind_price += one.is_kind_price
        self.not_inspected += not one.is_inspected
        if one.cost is None:
            self.without_cost += 1
            return
        self.acquisition += one.cost
        if one.treatment is Treatment.CAPITAL:
            self.capital += 1
            self.capital_amount += one.cost
            self.capital_book += one.book
        else:
            self.supply += 1
            self.supply_amount += one.cost

    def add(self, other: Sums) -> None:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


def summed(some: Iterable[Sums]) -> Sums:
    total = Sums()
    for one in some:
        total.add(one)
    return total


@dataclass
class FleetValue:
    """The sums of a day by school and kind, and the classes of assets that the composite rate is made of."""

    as_of: AsOf
    trade: Catalog
    lines: dict[tuple[int, str], Sums] = field(default_factory=lambda: defaultdict(Sums))

    @cached_property
    def total(self) -> Sums:
        return summed(self.lines.values())

    @cached_property
    def by_school(self) -> dict[int, Sums]:
        return self._by(0)

    @cached_property
    def by_kind(self) -> dict[str, Sums]:
        return self._by(1)

    def _by(self, place: int) -> dict:  # type: ignore[type-arg]  # keys of either sort
        found: dict[int | str, list[Sums]] = defaultdict(list)
        for key, sums in self.lines.items():
            found[key[place]].append(sums)
        return {key: summed(some) for key, some in found.items()}

    def asset(self, kind: str) -> Asset:
        """What is charged for a kind as a group."""
        cost = self.by_kind[kind].acquisition
        salvage = cents(cost * self.trade.settings["salvage_share"])
        return Asset(cost=cost, salvage=salvage, life_years=middle_life(self.trade.kind(kind).life_years))

    @property
    def composite(self) -> Composite:
        return composite(self.asset(kind) for kind in self.by_kind)


def fiscal_year_begins(trade: Catalog) -> tuple[int, int]:
    """Return month and day."""
    return int(trade.settings["fiscal_year_begins_month"]), int(trade.settings["fiscal_year_begins_day"])


def trade_of(as_of: AsOf) -> Catalog:
    """Return the catalog with the figures of the day, as far as they were known. One query."""
    return catalog_on(as_of.on, known_until=as_of.known_until)


def valued(
    as_of: AsOf,
    *,
    trade: Catalog,
    schools: Collection[int] | None = None,
    rows: QuerySet[Instrument] | None = None,
) -> Iterator[Valued]:
    """Yield what was held on the day, at these schools or anywhere, by number; of ``rows`` where they are given."""
    if rows is None and schools is not None:
        rows = ever_at(schools)
    for some in histories(as_of, rows=rows):
        held = [one for one in some if one.is_held(as_of.on)]
        held = [one for one in held if schools is None or one.school_on(as_of.on) in schools]
        keys = [one.pk for one in held]
        found, inspected = findings_on(as_of, keys=keys), inspected_on(as_of, keys=keys)
        for one in held:
            work = standard_work(one.kind_code, one.options, found.get(one.pk, ()), trade=trade)
            yield value_on(one, day=as_of.on, trade=trade, work=work, is_inspected=one.pk in inspected)


def written_on(keys: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """Return maker, model and serial of these instruments. One query."""
    rows = Instrument.objects.filter(pk__in=list(keys)).values_list("pk", "maker", "model", "serial")
    return {pk: tuple(texts) for pk, *texts in rows}


def value_on(history: History, *, day: date, trade: Catalog, work: Work = NOTHING, is_inspected: bool = True) -> Valued:
    """Return what an instrument is worth at the end of a day."""
    settings, kind = trade.settings, trade.kind(history.kind_code)
    life, cost = middle_life(kind.life_years), history.cost or Decimal(0)
    asset = Asset(cost=cost, salvage=cents(cost * settings["salvage_share"]), life_years=life)
    price, priced_on = history.replacement, history.priced_on
    if price is None:
        price, priced_on = middle_price(kind.prices, history.level), date(int(settings["price_year"]), 1, 1)
    replacement = price_on(amount=price, priced_on=priced_on, day=day, growth=settings["price_growth"])
    facts = ValueFacts(
        replacement_amount=replacement,
        age_years=age_on(year_made=history.year_made, acquired_on=history.acquired_on, day=day),
        life_years=life,
        residual_share=settings["residual_share"],
        playing_share=settings["playing_value_share"],
        repair_amount=work.amount,
    )
    return Valued(
        history=history,
        school=history.school_on(day),
        cost=history.cost,
        book=book_on(asset, in_service_on=history.begun_on, day=day),
        group_book=group_book(asset, in_service_on=history.begun_on, day=day, begins=fiscal_year_begins(trade)),
        salvage=asset.salvage,
        life_years=life,
        replacement=replacement,
        is_kind_price=history.replacement is None,
        repair=work.amount,
        repair_minutes=work.minutes,
        condition_adjusted=as_is_amount(facts),
        treatment=treatment(history.cost, level=settings["capital_level_amount"]),
        is_inspected=is_inspected,
    )


def fleet_value(as_of: AsOf, *, schools: Collection[int] | None = None) -> FleetValue:
    """Return what is held on a day, at these schools or anywhere, summed by school and kind."""
    fleet = FleetValue(as_of=as_of, trade=trade_of(as_of))
    for one in valued(as_of, trade=fleet.trade, schools=schools):
        fleet.lines[one.school, one.history.kind_code].count(one)
    return fleet


# Kept in this process


def _read(schools: Collection[int], _today: date, variant: Hashable) -> dict[int, Lines]:
    """Return by school what the instruments that are there now come to on the day, wherever they were on it."""
    as_of, trade = cast("Variant", variant)
    found: dict[int, Lines] = {school: defaultdict(Sums) for school in schools}
    for one in valued(as_of, trade=trade, rows=Instrument.objects.filter(school__in=schools)):
        found[one.history.school_now][one.school, one.history.kind_code].count(one)
    return found


Lines = dict[tuple[int, str], Sums]
Variant = tuple[AsOf, Catalog]
_values: SchoolSums[Lines] = SchoolSums(_read)


def fleet_value_kept(as_of: AsOf, *, schools: frozenset[int] | None, today: date) -> FleetValue:
    """The same, counted again only for schools where something has happened since."""
    fleet = FleetValue(as_of=as_of, trade=trade_of(as_of))
    where = School.objects.all() if schools is None else School.objects.filter(pk__in=schools)
    for lines in _values.of(where, today=today, variant=(as_of, fleet.trade)).values():
        for (school, kind), sums in lines.items():
            if schools is None or school in schools:
                fleet.lines[school, kind].add(sums)
    if schools is not None and as_of != AsOf(today) and (gone := moved_away(schools)):  # today they are elsewhere
        rows = Instrument.objects.filter(pk__in=gone).exclude(school__in=schools)
        for one in valued(as_of, trade=fleet.trade, schools=schools, rows=rows):
            fleet.lines[one.school, one.history.kind_code].count(one)
    return fleet
