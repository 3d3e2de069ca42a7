"""The tech's questions of a season, answered from jobs, findings and orders."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from heapq import nlargest, nsmallest
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from core.money import cents
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, Method
from inventory.models import Finding, Instrument, schools_of
from repairs.models import Attempt, Bench, Job, StepClock
from repairs.profiles import usual_bench
from repairs.rules.effort import Range, pert_mean
from repairs.rules.promises import Promise
from repairs.rules.season import Bill, CameBack, ToolCase, only_tools_lack
from repairs.rules.season import tool_cases as cases_of
from repairs.selectors.planning import learned
from repairs.selectors.promises import judged_jobs, method_lines, past_promises
from repairs.selectors.season_sums import AGE_NAMES, SHOWN, SchoolSeason, begin_of, latest_back, seasons, within_days

PERMISSION = "repairs.view_job"

Lacking = dict[str, frozenset[str] | None]  # by method: the tools it lacks; None: tools do not help


@dataclass(frozen=True, slots=True)
class LateJob:
    job: Job
    promise: Promise


@dataclass(frozen=True, slots=True)
class BackLine:
    """A repair that did not hold, with its instrument."""

    instrument: Instrument
    back: CameBack


@dataclass(frozen=True, slots=True)
class BackShare:
    """One fault: how many repairs of it came back."""

    fault: str  # its code
    back: int
    repaired: int


@dataclass(frozen=True, slots=True)
class ToolLine:
    case: ToolCase
    is_paid: bool  # False: what shops would charge for faults that stand now


@dataclass(frozen=True, slots=True)
class AgeCell:
    instruments: int
    faults: int

    @property
    def per_instrument(self) -> float | None:
        return self.faults / self.instruments if self.instruments else None


@dataclass(frozen=True, slots=True)
class KindAges:
    kind: Kind
    cells: tuple[AgeCell, ...]  # by AGES, then those of unknown age
    most: tuple[tuple[str, int], ...]  # the commonest faults by code, with their number

    @property
    def by_age(self) -> tuple[tuple[str, AgeCell], ...]:
        """The ages that the kind has instruments of."""
        return tuple((str(name), cell) for name, cell in zip(AGE_NAMES, self.cells, strict=True) if cell.instruments)

    @property
    def total(self) -> AgeCell:
        return AgeCell(
            instruments=sum(cell.instruments for cell in self.cells), faults=sum(cell.faults for cell in self.cells)
        )


@dataclass(frozen=True, slots=True)
class UnsafeLine:
    finding: Finding
    steps: int  # 0: unsafe now


def season_of(user: Any, *, now: datetime, days: int) -> dict[str, Any]:
    """Return the answers for the last so many days at the schools somebody sees.

    Lists hold their first SHOWN lines, numbers count all. A fixed number of queries. The sums of a school are kept
    until something happens there.
    """
    today = timezone.localdate(now)
    since = begin_of(today, days)
    sums = seasons.of(schools_of(user, PERMISSION), today=today, variant=days).values()
    jobs = Job.objects.visible_to(user, PERMISSION)
    closed = jobs.filter(closed_at__gt=since)
    judged = judged_jobs(closed)
    waiting = jobs.open().filter(
        ~Exists(Attempt.objects.filter(job=OuterRef("pk"))),
        ~Exists(StepClock.objects.filter(job=OuterRef("pk"))),
        due_on__isnull=False,
    )
    unsafe = _added(one.unsafe for one in sums)
    back = _added(one.back for one in sums)
    repaired = _added(one.repaired for one in sums)
    return {
        "since": timezone.localdate(since),
        "jobs": closed.count(),
        "judged": len(judged),
        "longer": _longer(judged),
        "back": _with_instruments(nlargest(SHOWN, (line for one in sums for line in one.back_lines), key=latest_back)),
        "back_count": back.total(),
        "shares": _shares(repaired, back),
        "repaired": repaired.total(),
        "within_days": within_days(),
        "over": tuple(line for line in method_lines(learned()) if line.runs_over),
        "tools": _tools(sums, benches=Bench.objects.visible_to(user, PERMISSION).in_use()),
        "kinds": _kinds(sums),
        "unsafe": _unsafe(nsmallest(SHOWN, (line for one in sums for line in one.unsafe_lines))),
        "unsafe_now": unsafe[0],
        "unsafe_count": unsafe.total(),  # with those one step from it
        "not_started": tuple(waiting.order_by("due_on", "pk")[:SHOWN].keys_first().for_table()),
        "not_started_count": waiting.count(),
    }


def _added(counters: Iterable[Counter[Any]]) -> Counter[Any]:
    total: Counter[Any] = Counter()
    for one in counters:
        total.update(one)
    return total


def _longer(judged: Sequence[int]) -> tuple[LateJob, ...]:
    over = sorted((one for one in past_promises(judged) if one.is_over), key=lambda one: -one.minutes_over)
    jobs = Job.objects.for_table().in_bulk([int(one.key) for one in over])
    return tuple(LateJob(job=jobs[int(one.key)], promise=one) for one in over)


def _with_instruments(back: Sequence[CameBack]) -> tuple[BackLine, ...]:
    rows = Instrument.objects.for_table().in_bulk([int(one.repaired.spot[0]) for one in back])
    return tuple(BackLine(instrument=rows[int(one.repaired.spot[0])], back=one) for one in back)


def _shares(repaired: Counter[str], back: Counter[str]) -> tuple[BackShare, ...]:
    shares = [BackShare(fault=code, back=count, repaired=repaired[code]) for code, count in back.items()]
    return tuple(sorted(shares, key=lambda one: (-one.back / one.repaired, -one.back, one.fault)))


def _tools(sums: Collection[SchoolSeason], *, benches: QuerySet[Bench]) -> tuple[ToolLine, ...]:
    """Return what tools would have saved: by the bills of the season, else by the fees of faults that stand."""
    facts = list({replace(bench.fact, code="") for bench in benches})  # benches that are equipped alike are one
    facts = facts or [usual_bench(catalog=catalog())]
    lacking = {code: only_tools_lack(method, benches=facts) for code, method in catalog().methods.items()}
    rate = min(bench.rate_amount for bench in facts)
    paid, awaited = _bills(sums, lacking=lacking, rate=rate), _fees(sums, lacking=lacking, rate=rate)
    return tuple(
        ToolLine(case=case, is_paid=is_paid)
        for bills, is_paid in ((paid, True), (awaited, False))
        for case in cases_of(bills, catalog=catalog())
        if case.saved_amount > 0
    )


def _bills(sums: Collection[SchoolSeason], *, lacking: Lacking, rate: Decimal) -> list[Bill]:
    counts: Counter[str] = Counter()
    amounts: dict[str, Decimal] = defaultdict(Decimal)
    for work, count, amount in (line for one in sums for line in one.bills):
        counts[work] += count
        amounts[work] += amount
    return [
        _bill(catalog().methods[work], tools=tools, count=count, amount=amounts[work], rate=rate)
        for work, count in counts.items()
        if (tools := lacking.get(work)) is not None
    ]


def _fees(sums: Collection[SchoolSeason], *, lacking: Lacking, rate: Decimal) -> list[Bill]:
    """Return the fees to expect for faults that stand and that no bench can fix, only for lack of tools."""
    trade = catalog()
    bills = []
    for codes, count in _added(one.fees for one in sums).items():
        if any(trade.methods[code].ladder or lacking[code] == frozenset() for code in codes):
            continue
        method = next((trade.methods[code] for code in codes if lacking[code]), None)
        if method is not None:
            hourly = trade.settings["shop_rate_per_hour"] * Decimal(method.minutes[1]) / 60
            fee = cents(sum(method.fee, Decimal(0)) / 2 if method.fee else hourly)
            tools = lacking[method.code] or frozenset()
            bills.append(_bill(method, tools=tools, count=count, amount=fee * count, rate=rate))
    return bills


def _bill(method: Method, *, tools: frozenset[str], count: int, amount: Decimal, rate: Decimal) -> Bill:
    hours = Decimal(str(pert_mean(Range(*method.minutes)))) / 60
    own = cents(hours * rate + sum((need.middle for need in method.parts), Decimal(0)))
    return Bill(method=method.name, tools=tools, amount=amount, own_amount=own * count, count=count)


def _kinds(sums: Collection[SchoolSeason]) -> tuple[KindAges, ...]:
    """Return faults found per instrument by kind and age."""
    instruments, faults = _added(one.instruments for one in sums), _added(one.faults for one in sums)
    common: dict[str, Counter[str]] = defaultdict(Counter)
    for (kind, fault), count in _added(one.common for one in sums).items():
        common[kind][fault] = count
    lines = [
        KindAges(
            kind=catalog().kind(code),
            cells=tuple(
                AgeCell(instruments=instruments[code, at], faults=faults[code, at]) for at in range(len(AGE_NAMES))
            ),
            most=tuple(found.most_common(3)),
        )
        for code, found in common.items()
    ]
    return tuple(sorted(lines, key=lambda line: (-(line.total.per_instrument or 0.0), line.kind.name)))


def _unsafe(lines: Sequence[tuple[int, str, int]]) -> tuple[UnsafeLine, ...]:
    """Return the faults with their rows, unsafe ones first. One query."""
    rows = Finding.objects.select_related("instrument__school").in_bulk([pk for _, _, pk in lines])
    return tuple(UnsafeLine(finding=rows[pk], steps=steps) for steps, _, pk in lines)
