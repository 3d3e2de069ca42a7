"""The season as the district's rows have it: seats and instruments of schools, what each repair takes, what a new one costs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from django.utils import timezone
from django.utils.translation import gettext

from core.progress import counted
from desk.rules.season_plan import Action, Budgets, Candidate, Goal, Option, Purchase, Season, Seats
from inventory.catalog.load import catalog
from inventory.models import Instrument, Level, PurchaseRequest, School, Verdict, Whereabouts
from inventory.rules.playing import LEVELS, level_fits
from inventory.rules.value import middle_price
from inventory.selectors.standing import standings_of
from loans.models import Loan, SharedUse
from loans.rules.assigning import Keeps
from loans.rules.assigning.fit import BETTER, LEVEL_CALLS_FOR
from loans.selectors.assigning import keeps_of, misses_of
from loans.selectors.seats import Demand, demands_of, size_of
from repairs.models import Bench, ShopOrder
from repairs.selectors.demand import asked_together
from repairs.selectors.outlook import Outlook, Work, outlooks_of, shop_days

NO_BENCH = "none"  # the bench of schools that have none
WITHIN_REACH = frozenset({Whereabouts.IN_STORE, Whereabouts.WITH_STUDENT, Whereabouts.ON_BENCH, Whereabouts.AT_SHOP})


class SeatLine(NamedTuple):
    """What seats ask for that are one line of the plan."""

    school: str  # code
    priority: int
    ensemble: str
    kind: str
    size: str
    level: str

    @property
    def key(self) -> str:
        return "|".join(map(str, self))


@dataclass(frozen=True, slots=True)
class Terms:
    """What a plan is made under. Days count from ``today``; None has no limit."""

    today: date
    needed_by: date | None = None
    budgets: Budgets = field(default_factory=Budgets)
    goal: Goal = Goal.PRIORITY
    shop_days: int | None = None  # None: as the district's orders took, or the figure it has set
    is_buying: bool = True


@dataclass(frozen=True, slots=True)
class DistrictSeason:
    """The season, and the rows that its keys stand for."""

    season: Season
    seats: dict[str, SeatLine]
    schools: dict[str, School]
    instruments: dict[str, Instrument]  # by asset number
    outlooks: dict[str, Outlook]  # of those that are not simply ready
    benches: dict[str, str]  # names by code
    requested: Counter[tuple[str, str, str]]  # in open purchase requests, by school, kind and size


def season_of(schools: Iterable[School], terms: Terms) -> DistrictSeason:
    """Return the season of schools: who needs what, and what could be done. A fixed number of queries per school."""
    lead = terms.shop_days or shop_days() or int(catalog().settings["shop_lead_days"])
    schools = list(schools)
    benches = dict(Bench.objects.filter(school__in=schools).values_list("code", "name"))
    requested = PurchaseRequest.objects.filter(school__in=schools).open().counts()
    found = DistrictSeason(Season((), budgets=terms.budgets, goal=terms.goal), {}, {}, {}, {}, benches, requested)
    seats: list[Seats] = []
    candidates: list[Candidate] = []
    kinds = Instrument.objects.present().filter(school__in=schools).order_by().values_list("school_id", "kind_code")
    with asked_together(set(kinds.distinct())):
        for school in counted(schools, total=len(schools), phase=gettext("Schools read")):
            found.schools[school.code] = school
            demands = _demands(school)
            counts = Counter(_seat_line(one, school) for one in demands)
            for line, count in counts.items():
                found.seats[line.key] = line
                seats.append(_seats(line, count, needed_by=terms.needed_by))
            candidates += _candidates(school, demands, terms=terms, lead=lead, found=found)
    purchases = tuple(_purchases(seats, today=terms.today)) if terms.is_buying else ()
    return replace(
        found, season=replace(found.season, seats=tuple(seats), candidates=tuple(candidates), purchases=purchases)
    )


def _demands(school: School) -> list[Demand]:
    """Return what students need for themselves; who shares one in class has it. Three queries."""
    shared = set(
        SharedUse.objects.open().filter(seat__student__school=school).values_list("seat__student_id", "seat__kind_code")
    )
    return [one for one in demands_of(school) if (one.student, one.kind) not in shared]


def _seat_line(one: Demand, school: School) -> SeatLine:
    return SeatLine(school.code, one.priority, one.ensemble, one.kind, one.size, one.level)


def _seats(line: SeatLine, count: int, *, needed_by: date | None) -> Seats:
    return Seats(
        key=line.key, kind=line.kind, count=count, school=line.school, size=line.size, level=line.level,
        priority=line.priority, needed_by=needed_by,
    )  # fmt: skip


def _candidates(
    school: School, demands: Iterable[Demand], *, terms: Terms, lead: int, found: DistrictSeason
) -> Iterator[Candidate]:
    """Yield the school's instruments of these kinds that could fill a seat of it.

    What is out with somebody who needs none of that kind here, or is shared in class, is spoken for.
    """
    needed = {(one.student, one.kind) for one in demands}
    out = Loan.objects.open().filter(instrument__school=school)
    spoken_for = {
        instrument
        for instrument, student, kind in out.values_list("instrument_id", "student_id", "instrument__kind_code")
        if (student, kind) not in needed
    }
    shared = SharedUse.objects.open().filter(period__school=school).values("instrument")
    used = (
        Instrument.objects.present()
        .in_use()
        .filter(school=school, kind_code__in={kind for _, kind in needed})
        .exclude(pk__in=shared)
    )
    rows = [row for row in used.order_by("asset_number") if row.pk not in spoken_for]
    standings = standings_of([row for row in rows if row.verdict == Verdict.PLAYS_WITH_LIMITS])
    enough = {
        pk: frozenset(LEVELS) - misses_of(level_fits(reports=one.reports)).keys() for pk, one in standings.items()
    }
    useless = {pk for pk, levels in enough.items() if not levels}  # for every level alike
    ready = {row.pk for row in rows if row.pk not in useless and _is_ready(row, today=terms.today)}
    open_rows = [row for row in rows if row.pk not in ready or enough.get(row.pk, frozenset(LEVELS)) != set(LEVELS)]
    outlooks = outlooks_of(school, [row for row in open_rows if row.whereabouts in WITHIN_REACH])
    for row in rows:
        found.instruments[row.asset_number] = row
        outlook = outlooks.get(row.pk)
        if outlook is not None:
            found.outlooks[row.asset_number] = outlook
        yield Candidate(
            key=row.asset_number,
            kind=row.kind_code,
            school=school.code,
            size=size_of(row.kind_code, row.options),
            is_ready=row.pk in ready,
            levels=enough.get(row.pk),
            options=tuple(_options(outlook, today=terms.today, lead=lead)) if outlook else (),
        )


def _is_ready(row: Instrument, *, today: date) -> bool:
    """Whether it plays and could go out, or is out; a mouthpiece to be washed keeps nothing from a season."""
    keeps = keeps_of(row, today=today)
    if keeps is Keeps.OUT:
        return row.verdict in {Verdict.PLAYS, Verdict.PLAYS_WITH_LIMITS}
    return keeps in {Keeps.NOTHING, Keeps.CLEANING}


def _options(outlook: Outlook, *, today: date, lead: int) -> Iterator[Option]:
    if outlook.order is not None:
        amount = _still_to_pay(outlook.order, outlook.outside)
        if amount is not None:
            yield _ordered(outlook.order, amount, today=today, lead=lead)
    elif not outlook.is_refused:
        if outlook.here is not None:
            yield _option(Action.REPAIR, outlook.here, bench=outlook.bench or NO_BENCH, today=today, lead=lead)
        if outlook.outside is not None:
            yield _option(Action.SEND_OUT, outlook.outside, bench="", today=today, lead=lead)


def _option(action: Action, work: Work, *, bench: str, today: date, lead: int) -> Option:
    days = work.days + (lead if work.shop_amount or action is Action.SEND_OUT else 0)
    return Option(
        action=action, bench=bench, hours=work.hours, parts_amount=work.parts_amount, shop_amount=work.shop_amount,
        ready_on=today + timedelta(days=days),
    )  # fmt: skip


def _still_to_pay(order: ShopOrder, outside: Work | None) -> Decimal | None:
    """Return what an order costs from here: what was approved is spent; without a figure, what a shop would ask for.

    None where nobody knows.
    """
    if order.work_approved_at is not None or (order.is_away and not order.is_estimate_only):
        return Decimal(0)
    if order.known_amount is not None:
        return order.known_amount
    return outside.shop_amount if outside else None


def _ordered(order: ShopOrder, amount: Decimal, *, today: date, lead: int) -> Option:
    """Return what is at a shop or asked of one."""
    days = timedelta(days=lead)
    ready_on = order.promised_on or (timezone.localdate(order.sent_at) + days if order.sent_at else today + days)
    return Option(Action.SEND_OUT, shop_amount=amount, ready_on=max(ready_on, today))


def _purchases(seats: Iterable[Seats], *, today: date) -> Iterator[Purchase]:
    """Yield a new one of each kind, size and make that is asked for, where the catalog has a price."""
    ready_on = today + timedelta(days=int(catalog().settings["purchase_lead_days"]))
    levels_of = defaultdict[tuple[str, str, Level], set[str]](set)
    for one in seats:
        levels_of[one.kind, one.size, make_for(one.level)].add(one.level)
    for (kind, size, make), levels in sorted(levels_of.items()):
        price = middle_price(catalog().kind(kind).prices, make)
        if price:
            key = " ".join(filter(None, ("new", kind, size, "" if make is Level.STUDENT else make.value)))
            yield Purchase(key, kind, price, size=size, levels=frozenset(levels), ready_on=ready_on)


def make_for(level: str) -> Level:
    """Return the make to buy for players of a level, as assigning judges what they call for."""
    return Level.INTERMEDIATE if LEVEL_CALLS_FOR.get(level, 0) >= BETTER else Level.STUDENT
