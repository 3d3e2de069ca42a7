"""What each school adds to the answers of a season: read for the schools where something happened, else kept."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from heapq import nsmallest

from django.db.models import Count, Exists, OuterRef, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.catalog.load import catalog
from inventory.catalog.names import methods_for
from inventory.catalog.schema import MISSING_PART, Catalog, Severity
from inventory.models import Finding, Instrument, Whereabouts, in_use_on
from inventory.models.inspections import Closed
from inventory.selectors.school_sums import SchoolSums
from repairs.models import Attempt, ShopOrder, TakenPart
from repairs.rules.season import CameBack, Repaired, Spot, came_back, steps_to_unsafe

AGES = ((5, gettext_lazy("up to 5 years")), (15, gettext_lazy("6 to 15")), (999, gettext_lazy("over 15")))
AGE_NAMES = (*(name for _, name in AGES), gettext_lazy("year not known"))
SHOWN = 20  # lines of each list; the sums beside it count all

Places = dict[int, tuple[int, str, int]]  # by instrument: school, kind, place among AGES


@dataclass
class SchoolSeason:
    """What a school adds to the answers, as it is kept: sums, and the first lines of each list."""

    repaired: Counter[str] = field(default_factory=Counter)  # by fault
    back: Counter[str] = field(default_factory=Counter)  # by fault
    back_lines: list[CameBack] = field(default_factory=list)
    bills: list[tuple[str, int, Decimal]] = field(default_factory=list)  # method, orders, dollars
    fees: Counter[tuple[str, ...]] = field(default_factory=Counter)  # by the methods that a standing fault asks for
    instruments: Counter[tuple[str, int]] = field(default_factory=Counter)  # by kind and age
    faults: Counter[tuple[str, int]] = field(default_factory=Counter)  # by kind and age
    common: Counter[tuple[str, str]] = field(default_factory=Counter)  # by kind and fault
    unsafe: Counter[int] = field(default_factory=Counter)  # by steps
    unsafe_lines: list[tuple[int, str, int]] = field(default_factory=list)  # steps, asset number, finding


def within_days() -> int:
    return int(catalog().settings["comes_back_days"])


def latest_back(back: CameBack) -> tuple[date, Spot]:
    return back.again_on, back.repaired.spot


def begin_of(today: date, days: int) -> datetime:
    """The moment so many days before this day began."""
    return timezone.make_aware(datetime.combine(today - timedelta(days=days), time.min))


def _age(year: int | None, *, today: date) -> int:
    """Return the place among AGES; the last place is for those whose year nobody knows."""
    if year is None:
        return len(AGES)
    return next(place for place, (most, _) in enumerate(AGES) if today.year - year <= most)


def _read(schools: Collection[int], today: date, days: Hashable) -> dict[int, SchoolSeason]:
    """Return what each of the schools adds. Ten queries at most, however many schools."""
    since = begin_of(today, int(str(days)))
    seasons = {pk: SchoolSeason() for pk in schools}
    places: Places = {}  # of what the schools hold
    held = Instrument.objects.filter(school__in=schools).present().order_by()
    for pk, school, kind, year in held.values_list("pk", "school", "kind_code", "year_made"):
        places[pk] = school, kind, _age(year, today=today)
        seasons[school].instruments[kind, places[pk][2]] += 1
    found = _read_found(seasons, places, since=since)
    _read_backs(seasons, found, since=since)
    orders = ShopOrder.objects.filter(
        instrument__school__in=schools, invoice_amount__isnull=False, returned_at__gt=since
    ).order_by()
    summed = orders.values_list("instrument__school", "work").annotate(
        count=Count("pk", filter=Q(warranty_of=None)), amount=Sum("invoice_amount")
    )
    for school, work, count, amount in summed:
        if count or amount:  # what a shop made good for nothing is no bill
            seasons[school].bills.append((work, count, amount))
    _read_standing(seasons)
    return seasons


def _read_found(seasons: dict[int, SchoolSeason], places: Places, *, since: datetime) -> dict[Spot, list[datetime]]:
    """Count faults by kind and age, one seen in several inspections once; return when each was found."""
    found: dict[Spot, list[datetime]] = defaultdict(list)
    counted: set[Spot] = set()
    taken = TakenPart.objects.filter(
        parts_instrument__instrument=OuterRef("instrument"), part=OuterRef("part"), place=OuterRef("place")
    )
    rows = Finding.objects.filter(
        instrument__school__in=seasons, found_at__gt=since, inspection__finished_at__isnull=False
    ).order_by()
    rows = rows.exclude(Q(fault=MISSING_PART) & Exists(taken))  # a part for another instrument is no fault that came up
    columns = ("instrument_id", "part", "place", "fault", "found_at", "closed_because")
    for pk, part, place, fault, at, because in rows.values_list(*columns):
        spot = (str(pk), part, place, fault)
        found[spot].append(at)
        if because != Closed.WITHDRAWN and spot not in counted and pk in places:
            counted.add(spot)
            school, kind, age = places[pk]
            seasons[school].faults[kind, age] += 1
            seasons[school].common[kind, fault] += 1
    return found


def _read_backs(seasons: dict[int, SchoolSeason], found: dict[Spot, list[datetime]], *, since: datetime) -> None:
    """Count the repairs, and those that did not hold: found again, or sent back under warranty. Four queries."""
    returns: dict[str, list[datetime]] = defaultdict(list)  # by the order that was to put it right
    again_there = ShopOrder.objects.filter(
        instrument__school__in=seasons, warranty_of__isnull=False, sent_at__gt=since
    ).order_by()
    for order, sent_at in again_there.values_list("warranty_of", "sent_at"):
        if sent_at:
            returns[f"order:{order}"].append(sent_at)
    rows = Finding.objects.filter(
        instrument__school__in=seasons, closed_because=Closed.REPAIRED, closed_at__gt=since
    ).order_by("closed_at", "pk")
    columns = ("pk", "instrument__school", "instrument_id", "part", "place", "fault", "closed_at", "closed_reference")
    again: list[tuple[Spot, date]] = []
    repaired: dict[Repaired, tuple[int, int]] = {}  # with finding and school
    moments: dict[Spot, datetime] = {}
    for pk, school, instrument, part, place, fault, closed_at, reference in rows.values_list(*columns):
        spot = (str(instrument), part, place, fault)
        if spot not in moments and closed_at:  # the first repair of the season: what was seen after it came back
            moments[spot] = closed_at
            again += [(spot, timezone.localdate(at)) for at in found.get(spot, ()) if at > closed_at]
        if closed_at:
            again += [(spot, timezone.localdate(at)) for at in returns.get(reference, ()) if at > closed_at]
        one = Repaired(spot=spot, on=timezone.localdate(closed_at), method="", job=reference)
        repaired[one] = pk, school
        seasons[school].repaired[fault] += 1
    backs = came_back(repaired, found=again, within_days=within_days())
    methods = _methods_of({one.repaired.job.removeprefix("job:") for one in backs})
    works = _works_of({one.repaired.job.removeprefix("order:") for one in backs})
    for back in backs:
        pk, school = repaired[back.repaired]
        seasons[school].back[back.repaired.spot[3]] += 1
        if len(seasons[school].back_lines) < SHOWN:  # the latest come first
            named = replace(back.repaired, method=methods.get(pk) or works.get(back.repaired.job, ""))
            seasons[school].back_lines.append(replace(back, repaired=named))


def _methods_of(jobs: set[str]) -> dict[int, str]:
    """Return by finding the method of the last attempt that was for it. One query."""
    methods: dict[int, str] = {}
    rows = Attempt.objects.filter(job__in=[int(pk) for pk in jobs if pk.isdigit()]).order_by("ended_at", "pk")
    for method, findings in rows.values_list("method", "findings"):
        for pk in findings:
            methods[pk] = method
    return methods


def _works_of(orders: set[str]) -> dict[str, str]:
    """Return by reference the kind of work that shops were asked for. One query."""
    rows = ShopOrder.objects.filter(pk__in=[int(pk) for pk in orders if pk.isdigit()])
    return {f"order:{pk}": work for pk, work in rows.values_list("pk", "work")}


def _read_standing(seasons: dict[int, SchoolSeason]) -> None:
    """Count what stands: by the methods it asks for, and by steps from unsafe, with the first lines. Two queries."""
    ordered = ShopOrder.objects.open().filter(instrument=OuterRef("instrument"))
    rows = Finding.objects.standing().filter(instrument__school__in=seasons).order_by()
    rows = rows.filter(in_use_on("instrument__")).exclude(instrument__whereabouts=Whereabouts.GONE)
    spot_columns = ("instrument__kind_code", "part", "fault", "severity")
    counted = rows.values_list("instrument__school", *spot_columns).annotate(
        count=Count("pk"), asking=Count("pk", filter=~Exists(ordered))
    )
    trade, unsafe = catalog(), set()
    for school, *spot, count, asking in counted:
        steps, methods = _needs(trade, *spot)
        if steps is not None:
            seasons[school].unsafe[steps] += count
            unsafe.add(tuple(spot))
        if methods and asking:
            seasons[school].fees[methods] += asking
    near = rows.filter(fault__in={fault for _, _, fault, _ in unsafe})
    lines: dict[int, list[tuple[int, str, int]]] = defaultdict(list)
    for school, pk, number, *spot in near.values_list(
        "instrument__school", "pk", "instrument__asset_number", *spot_columns
    ):
        if tuple(spot) in unsafe:
            lines[school].append((_needs(trade, *spot)[0] or 0, number, pk))
    for school, found in lines.items():
        seasons[school].unsafe_lines = nsmallest(SHOWN, found)


@lru_cache(maxsize=20_000)
def _needs(trade: Catalog, kind_code: str, part: str, fault: str, severity: str) -> tuple[int | None, tuple[str, ...]]:
    """Return the steps from unsafe (0: unsafe now; None: far), and the methods that a fault at a part asks for."""
    kind = trade.kinds.get(kind_code)
    role = next((one.role for one in kind.parts if one.code == part), "") if kind else ""
    steps = steps_to_unsafe(fault=fault, severity=Severity(severity), role=role, catalog=trade)
    if kind is None or fault not in trade.faults or not role:
        return steps, ()
    return steps, tuple(methods_for(catalog=trade, kind=kind, fault=fault, role=role, severity=Severity(severity)))


seasons = SchoolSums(_read, at_once=20_000)
