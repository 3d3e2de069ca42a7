"""What there is to replace, and how long instruments of each kind last in this district.

Prices, cost to playing condition and what counts as held are those of the value of the fleet. How long a kind lasts is
learned from all schools, whichever schools are asked about: it names no instrument.
"""

from __future__ import annotations

import operator
from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import NamedTuple, cast

from django.db.models.functions import Coalesce
from django.utils import timezone

from desk.selectors.value import trade_of, valued
from inventory.catalog.schema import Catalog
from inventory.models import Custody, Disposal, Instrument, School, Whereabouts, in_use_on
from inventory.rules.leaving import WORN_OUT
from inventory.rules.replacement import (
    FleetUnit,
    NeedYear,
    expected_need,
    replace_first,
    replacement_need,
    steady_budget,
)
from inventory.rules.survivors import SeenLife, SurvivorCurve, curve_of_span, learn_curve
from inventory.selectors.past import AsOf
from inventory.selectors.school_sums import SchoolSums
from repairs.models import PartsInstrument, WorthDecision
from repairs.rules.worth import Answer

DAYS_A_YEAR = 365.25
SHOWN_FIRST = 20
MOST_NEEDS = 8  # kept, of some hundred bytes for each instrument
LEFT = (Whereabouts.GONE, Whereabouts.NOT_FOUND)
FLAGS = ("is_retired", "is_parts_instrument")  # it is worn out, or its repair is not worth it


class Facts(NamedTuple):
    """One instrument in use, as far as the need hangs on it. Dollars of today."""

    number: str
    kind: str
    school: int
    age_years: float | None
    replacement: Decimal
    repair: Decimal
    is_kind_price: bool
    is_inspected: bool


@dataclass(frozen=True, slots=True)
class SchoolNeed:
    """A school's next twelve months, on average, and what to set aside a year."""

    instruments: int
    count: float
    mean: Decimal
    budget: Decimal


@dataclass
class Need:
    """What is in use at some schools, and how long each of its kinds lasts."""

    today: date
    trade: Catalog
    facts: tuple[Facts, ...]
    curves: Mapping[str, SurvivorCurve]  # by kind
    out_of_use: int  # retired or kept for parts, and still there

    @cached_property
    def units(self) -> dict[str, FleetUnit]:
        """By asset number."""
        return {one.number: self._unit(one) for one in self.facts}

    @cached_property
    def years(self) -> tuple[NeedYear, ...]:
        return replacement_need(self.units.values(), price_growth=self.trade.settings["price_growth"])

    @cached_property
    def budget(self) -> Decimal:
        return steady_budget(self.units.values())

    @cached_property
    def by_school(self) -> dict[int, list[FleetUnit]]:
        found = defaultdict(list)
        for one in self.facts:
            found[one.school].append(self.units[one.number])
        return dict(found)

    @cached_property
    def school_needs(self) -> dict[int, SchoolNeed]:
        return {
            pk: SchoolNeed(len(units), *expected_need(units), steady_budget(units))
            for pk, units in self.by_school.items()
        }

    @cached_property
    def first(self) -> tuple[FleetUnit, ...]:
        """What a page shows of the order of replacing."""
        return tuple(self.units[one.number] for one in replace_first(self.units.values(), most=SHOWN_FIRST))

    def _unit(self, one: Facts) -> FleetUnit:
        return FleetUnit(
            number=one.number,
            curve=self.curves[one.kind],
            age_years=one.age_years,
            replacement_amount=one.replacement,
            repair_amount=one.repair,
            repair_limit=self.trade.kind(one.kind).repair_limit,
        )


def need_of(*, schools: Collection[int] | None, today: date) -> Need:
    """Return what there is to replace at these schools, or anywhere.

    Read again only for schools where something has happened since; then some queries for each thousand instruments.
    What was worked out from the same facts is kept.
    """
    trade = trade_of(AsOf(today))
    everywhere = School.objects.all()
    where = everywhere if schools is None else everywhere.filter(pk__in=schools)
    facts = [*_facts.of(where, today=today, variant=trade).values()]
    lives = [*_lives.of(everywhere, today=today).values()]
    aside = Instrument.objects.present().filter(merged_into=None).exclude(in_use_on())
    aside = aside if schools is None else aside.filter(school__in=schools)
    out_of_use = aside.count()
    question = (None if schools is None else frozenset(schools), today, trade, out_of_use)
    read: list[list[Facts] | Lives] = [*facts, *lives]
    before = _needs.get(question)
    if before is not None and len(before[0]) == len(read) and all(map(operator.is_, before[0], read)):
        return before[1]
    need = _need(facts, lives, today=today, trade=trade, out_of_use=out_of_use)
    if len(_needs) >= MOST_NEEDS:
        _needs.clear()
    _needs[question] = (read, need)
    return need


def _need(read: Iterable[list[Facts]], seen: Iterable[Lives], *, today: date, trade: Catalog, out_of_use: int) -> Need:
    facts = tuple(one for some in read for one in some)
    lives: dict[str, list[SeenLife]] = defaultdict(list)
    for by_kind in seen:
        for kind, some in by_kind.items():
            lives[kind] += some
    curves = {
        kind: learn_curve(lives[kind], start=first_curve(kind, trade=trade)) for kind in {one.kind for one in facts}
    }
    return Need(today=today, trade=trade, facts=facts, curves=curves, out_of_use=out_of_use)


def first_curve(kind: str, *, trade: Catalog) -> SurvivorCurve:
    """Return the curve of the years that the catalog states for the kind; a year at least, and one more."""
    low, high = trade.kind(kind).life_years
    least = max(low, 1)
    return curve_of_span(least, max(high, least + 1))


def age_in_years(*, year_made: int | None, acquired_on: date | None, day: date) -> float | None:
    """Return the age on a day, from the middle of the year it was made in, or from when it came; None: nobody knows."""
    born = date(year_made, 7, 1) if year_made else acquired_on
    return None if born is None else max((day - born).days, 0) / DAYS_A_YEAR


def _read_facts(schools: Collection[int], today: date, variant: Hashable) -> dict[int, list[Facts]]:
    trade = cast("Catalog", variant)
    found: dict[int, list[Facts]] = {school: [] for school in schools}
    rows = Instrument.objects.in_use().filter(school__in=schools)
    for one in valued(AsOf(today), trade=trade, rows=rows):
        history = one.history
        age = age_in_years(year_made=history.year_made, acquired_on=history.acquired_on, day=today)
        found[history.school_now].append(
            Facts(
                history.asset_number, history.kind_code, history.school_now, age, one.replacement, one.repair,
                one.is_kind_price, one.is_inspected,
            )
        )  # fmt: skip
    return found


Lives = dict[str, list[SeenLife]]  # by kind


def _read_lives(schools: Collection[int], today: date, _variant: Hashable) -> dict[int, Lives]:
    """Return how long each instrument was seen, those of no known age left out. Five queries.

    It was worn out on the day it was scrapped, retired or kept for parts; one that was lost, sold or given away was seen
    until then.
    """
    found: dict[int, Lives] = {school: defaultdict(list) for school in schools}
    spans = Custody.objects.filter(instrument__school__in=schools, until=None, whereabouts__in=LEFT)
    left = {pk: timezone.localdate(since) for pk, since in spans.values_list("instrument", "since")}
    gone = Disposal.objects.standing().filter(instrument__school__in=schools)
    disposed = {pk: (on, way in WORN_OUT) for pk, on, way in gone.values_list("instrument", "on", "way")}
    left |= {pk: on for pk, (on, _) in disposed.items()}
    set_aside = _set_aside(schools)
    rows = Instrument.objects.filter(school__in=schools, merged_into=None, is_entered_in_error=False).order_by()
    columns = ("pk", "school", "kind_code", "year_made", "acquired_on", "registered_at", *FLAGS)
    for pk, school, kind, year_made, acquired_on, registered_at, *flags in rows.values_list(*columns):
        days = [day for flag, is_set in zip(FLAGS, flags, strict=True) if is_set and (day := set_aside[flag].get(pk))]
        on, is_worn_out = disposed.get(pk, (today, False))
        days += [on] if is_worn_out else []
        until = min(days) if days else left.get(pk, today)
        age = age_in_years(year_made=year_made, acquired_on=acquired_on, day=until)
        entered = age_in_years(year_made=year_made, acquired_on=acquired_on, day=timezone.localdate(registered_at))
        if age is None or entered is None or (any(flags) and not days):  # nobody knows how old, or since when
            continue
        seen = SeenLife(age_years=age, is_retired=bool(days), seen_from_years=min(entered, age))
        found[school][kind].append(seen)
    return found


def _set_aside(schools: Collection[int]) -> dict[str, dict[int, date]]:
    """Return by flag and instrument the day it was set aside. Two queries."""
    held = WorthDecision.objects.in_force().filter(instrument__school__in=schools, answer=Answer.RETIRE).order_by("pk")
    kept = PartsInstrument.objects.filter(instrument__school__in=schools, ended_at=None)
    retired = held.values_list("instrument", Coalesce("settled_at", "decided_at"))
    return {
        "is_retired": {pk: timezone.localdate(at) for pk, at in retired},
        "is_parts_instrument": {pk: timezone.localdate(at) for pk, at in kept.values_list("instrument", "marked_at")},
    }


_facts: SchoolSums[list[Facts]] = SchoolSums(_read_facts)
_lives: SchoolSums[Lives] = SchoolSums(_read_lives)
_needs: dict[Hashable, tuple[list[list[Facts] | Lives], Need]] = {}  # with the very facts it was worked out from
