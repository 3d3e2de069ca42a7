"""The tech's questions of a season, answered from jobs, findings and orders."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.catalog.names import methods_for
from inventory.catalog.schema import Kind, Method
from inventory.models import Finding, Instrument, School, Whereabouts, schools_of
from inventory.models.inspections import Closed
from inventory.rules.verdict import finding_name
from repairs.models import Attempt, Bench, Job, ShopOrder
from repairs.profiles import bench_profile
from repairs.rules.effort import Range, pert_mean
from repairs.rules.facts import BenchFact
from repairs.rules.promises import Promise
from repairs.rules.season import Bill, CameBack, Repaired, Spot, ToolCase, came_back, only_tools_lack, steps_to_unsafe
from repairs.rules.season import tool_cases as cases_of
from repairs.selectors.learning import learned_times
from repairs.selectors.learning_page import MethodLine, method_lines
from repairs.selectors.planning import DEFAULT_BENCH
from repairs.selectors.promises import judged_jobs, past_promises

AGES = ((5, "up to 5 years"), (15, "6 to 15"), (999, "over 15"))
AGE_NAMES = (*(name for _, name in AGES), "year not known")
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class LateJob:
    job: Job
    promise: Promise


@dataclass(frozen=True, slots=True)
class BackLine:
    """A repair that did not hold, in words."""

    instrument: Instrument
    words: str
    method: str
    back: CameBack


@dataclass(frozen=True, slots=True)
class BackShare:
    """One fault: how many repairs of it came back."""

    fault: str
    back: int
    repaired: int


@dataclass(frozen=True, slots=True)
class ToolLine:
    case: ToolCase
    names: str
    is_paid: bool  # False: what shops would charge for faults that stand now

    @property
    def work(self) -> str:
        counted = Counter(bill.method for bill in self.case.bills)
        return ", ".join(name if count == 1 else f"{name} ({count})" for name, count in counted.most_common(3))


@dataclass(frozen=True, slots=True)
class AgeCell:
    horns: int
    faults: int

    @property
    def per_horn(self) -> float | None:
        return self.faults / self.horns if self.horns else None


@dataclass(frozen=True, slots=True)
class KindAges:
    kind: Kind
    cells: tuple[AgeCell, ...]  # by AGES, then those of unknown age
    most: tuple[str, ...]  # the commonest faults, with their number

    @property
    def by_age(self) -> tuple[tuple[str, AgeCell], ...]:
        """The ages that the kind has instruments of."""
        return tuple((name, cell) for name, cell in zip(AGE_NAMES, self.cells, strict=True) if cell.horns)

    @property
    def total(self) -> AgeCell:
        return AgeCell(horns=sum(cell.horns for cell in self.cells), faults=sum(cell.faults for cell in self.cells))


@dataclass(frozen=True, slots=True)
class UnsafeLine:
    instrument: Instrument
    words: str
    steps: int  # 0: unsafe now


@dataclass(frozen=True, slots=True)
class Season:
    since: date
    jobs: int
    judged: int
    longer: tuple[LateJob, ...]
    back: tuple[BackLine, ...]
    shares: tuple[BackShare, ...]
    repaired: int
    within_days: int
    over: tuple[MethodLine, ...]
    tools: tuple[ToolLine, ...]
    kinds: tuple[KindAges, ...]
    unsafe: tuple[UnsafeLine, ...]
    not_started: tuple[Job, ...]

    @property
    def unsafe_now(self) -> int:
        return sum(1 for line in self.unsafe if line.steps == 0)


def season_of(user: Any, *, now: datetime, days: int) -> Season:
    """Return the answers for the last so many days at the schools somebody sees. A fixed number of queries."""
    since = now - timedelta(days=days)
    schools = list(schools_of(user, "repairs.view_job"))
    jobs = Job.objects.filter(instrument__school__in=schools)
    closed = jobs.filter(closed_at__gt=since)
    judged = judged_jobs(closed)
    within = int(catalog().settings["comes_back_days"])
    repaired, back = _backs(schools, since=since, within=within)
    return Season(
        since=timezone.localdate(since),
        jobs=closed.count(),
        judged=len(judged),
        longer=_longer(judged),
        back=_in_words(back),
        shares=_shares(repaired, back),
        repaired=len(repaired),
        within_days=within,
        over=tuple(line for line in method_lines(learned_times()) if line.runs_over),
        tools=_tools(schools, since=since),
        kinds=_kinds(schools, since=since, today=timezone.localdate(now)),
        unsafe=_unsafe(schools),
        not_started=_not_started(jobs),
    )


def _longer(jobs: Sequence[Job]) -> tuple[LateJob, ...]:
    by_key = {str(job.pk): job for job in jobs}
    late = [LateJob(job=by_key[one.key], promise=one) for one in past_promises(jobs) if one.is_over]
    return tuple(sorted(late, key=lambda one: -one.promise.minutes_over))


def _backs(schools: Sequence[School], *, since: datetime, within: int) -> tuple[list[Repaired], tuple[CameBack, ...]]:
    """Return the repairs since a moment and those that did not hold. Three queries."""
    rows = list(
        Finding.objects.filter(instrument__school__in=schools, closed_because=Closed.REPAIRED, closed_at__gt=since)
        .order_by("closed_at", "pk")
        .values_list("pk", "instrument_id", "part", "place", "fault", "closed_at", "closed_reference")
    )
    methods = _methods_of({row[6].removeprefix("job:") for row in rows if row[6].startswith("job:")})
    repaired: list[Repaired] = []
    moments: dict[Spot, datetime] = {}
    for pk, instrument, part, place, fault, closed_at, reference in rows:
        if closed_at is None:
            continue
        spot = (str(instrument), part, place, fault)
        one = Repaired(spot=spot, on=timezone.localdate(closed_at), method=methods.get(pk, ""), job=reference)
        repaired.append(one)
        moments.setdefault(spot, closed_at)
    keys = {row[1] for row in rows}
    again = Finding.objects.filter(instrument__in=keys, found_at__gt=since, inspection__finished_at__isnull=False)
    found: list[tuple[Spot, date]] = []
    for instrument, part, place, fault, found_at in again.values_list(
        "instrument_id", "part", "place", "fault", "found_at"
    ):
        spot = (str(instrument), part, place, fault)
        if spot in moments and found_at > moments[spot]:
            found.append((spot, timezone.localdate(found_at)))
    return repaired, came_back(repaired, found=found, within_days=within)


def _methods_of(jobs: set[str]) -> dict[int, str]:
    """Return by finding the method of the last attempt that was for it. One query."""
    methods: dict[int, str] = {}
    rows = Attempt.objects.filter(job__in=[int(pk) for pk in jobs if pk.isdigit()]).order_by("ended_at", "pk")
    for method, findings in rows.values_list("method", "findings"):
        for pk in findings:
            methods[pk] = method
    return methods


def _in_words(back: Sequence[CameBack]) -> tuple[BackLine, ...]:
    rows = Instrument.objects.for_table().in_bulk([int(one.repaired.spot[0]) for one in back])
    lines = []
    for one in back:
        instrument = rows[int(one.repaired.spot[0])]
        _, part, place, fault = one.repaired.spot
        method = catalog().methods.get(one.repaired.method)
        lines.append(
            BackLine(
                instrument=instrument,
                words=f"{instrument.kind.where(part, place)}: {catalog().fault_name(fault)}",
                method=method.name if method else "",
                back=one,
            )
        )
    return tuple(lines)


def _shares(repaired: Sequence[Repaired], back: Sequence[CameBack]) -> tuple[BackShare, ...]:
    done = Counter(one.spot[3] for one in repaired)
    again = Counter(one.repaired.spot[3] for one in back)
    shares = [
        BackShare(fault=catalog().fault_name(code), back=count, repaired=done[code]) for code, count in again.items()
    ]
    return tuple(sorted(shares, key=lambda one: (-one.back / one.repaired, -one.back, one.fault)))


def _tools(schools: Sequence[School], *, since: datetime) -> tuple[ToolLine, ...]:
    """Return what tools would have saved: by the bills of the season, else by the fees of faults that stand."""
    benches = [bench.fact for bench in Bench.objects.filter(school__in=schools)]
    benches = benches or [bench_profile(DEFAULT_BENCH, catalog=catalog())]
    paid = cases_of(_bills(schools, since=since, benches=benches), catalog=catalog())
    awaited = cases_of(_fees(schools, benches=benches), catalog=catalog())
    return tuple(
        ToolLine(case=case, names=_tool_names(case.tools), is_paid=is_paid)
        for cases, is_paid in ((paid, True), (awaited, False))
        for case in cases
        if case.saved_amount > 0
    )


def _tool_names(codes: Sequence[str]) -> str:
    known = catalog().tools
    return ", ".join(known[code].name if code in known else code.replace("_", " ") for code in codes)


def _bills(schools: Sequence[School], *, since: datetime, benches: Sequence[BenchFact]) -> list[Bill]:
    rows = ShopOrder.objects.filter(instrument__school__in=schools, invoice_amount__isnull=False, returned_at__gt=since)
    bills = []
    for order in rows.select_related("instrument").order_by("pk"):
        method = catalog().methods.get(order.work)
        if method and order.invoice_amount is not None:
            tools = only_tools_lack(method, benches=benches)
            if tools is not None:
                bills.append(
                    _bill(method, tools=tools, amount=order.invoice_amount, horn=order.instrument.asset_number,
                          is_paid=True, benches=benches)
                )  # fmt: skip
    return bills


def _fees(schools: Sequence[School], *, benches: Sequence[BenchFact]) -> list[Bill]:
    """Return the fees to expect for faults that stand and that no bench can put right only for want of tools."""
    trade = catalog()
    ordered = ShopOrder.objects.open().filter(instrument=OuterRef("instrument"))
    rows = (
        Finding.objects.standing()
        .filter(instrument__school__in=schools, instrument__is_parts_horn=False)
        .exclude(instrument__whereabouts=Whereabouts.GONE)
        .exclude(Exists(ordered))
        .select_related("instrument")
        .order_by("pk")
    )
    lacking = {code: only_tools_lack(method, benches=benches) for code, method in trade.methods.items()}
    rate = trade.settings["shop_rate_per_hour"]
    bills = []
    for row in rows:
        fact, kind = row.fact, row.instrument.kind
        role = next((part.role for part in kind.parts if part.code == row.part), "")
        if fact.fault not in trade.faults or not role:
            continue
        codes = methods_for(catalog=trade, kind=kind, fault=fact.fault, role=role, severity=fact.severity)
        methods = [trade.methods[code] for code in codes]
        if any(method.ladder or lacking[method.code] == frozenset() for method in methods):
            continue
        method = next((one for one in methods if lacking[one.code]), None)
        if method is None:
            continue
        fee = sum(method.fee, Decimal(0)) / 2 if method.fee else rate * Decimal(method.minutes[1]) / 60
        bills.append(
            _bill(method, tools=lacking[method.code] or frozenset(), amount=Decimal(fee), is_paid=False,
                  horn=row.instrument.asset_number, benches=benches)
        )  # fmt: skip
    return bills


def _bill(
    method: Method, *, tools: frozenset[str], amount: Decimal, horn: str, is_paid: bool, benches: Sequence[BenchFact]
) -> Bill:
    low, likely, high = method.minutes
    hours = Decimal(str(pert_mean(Range(low=low, likely=likely, high=high)))) / 60
    rate = min(bench.rate_amount for bench in benches)
    parts = sum((need.middle for need in method.parts), Decimal(0))
    return Bill(
        method=method.name,
        tools=tools,
        amount=amount.quantize(CENT),
        own_amount=(hours * rate + parts).quantize(CENT),
        horn=horn,
        is_paid=is_paid,
    )


def _kinds(schools: Sequence[School], *, since: datetime, today: date) -> tuple[KindAges, ...]:
    """Return faults found per horn by kind and age; one fault seen in several inspections counts once. Two queries."""
    horns = Instrument.objects.filter(school__in=schools).present().values_list("pk", "kind_code", "year_made")
    ages = {pk: (kind, _age(year, today=today)) for pk, kind, year in horns}
    counts: dict[str, list[list[int]]] = defaultdict(lambda: [[0, 0] for _ in range(len(AGES) + 1)])
    for kind, at in ages.values():
        counts[kind][at][0] += 1
    common: dict[str, Counter[str]] = defaultdict(Counter)
    found = Finding.objects.filter(
        instrument__in=ages, found_at__gt=since, inspection__finished_at__isnull=False
    ).exclude(closed_because=Closed.WITHDRAWN)
    for pk, _, _, fault in found.values_list("instrument_id", "part", "place", "fault").distinct().order_by():
        kind, at = ages[pk]
        counts[kind][at][1] += 1
        common[kind][fault] += 1
    lines = [
        KindAges(
            kind=catalog().kinds[code],
            cells=tuple(AgeCell(horns=cell[0], faults=cell[1]) for cell in cells),
            most=tuple(f"{catalog().fault_name(fault)} ({count})" for fault, count in common[code].most_common(3)),
        )
        for code, cells in counts.items()
        if code in catalog().kinds and common[code]
    ]
    return tuple(sorted(lines, key=lambda line: (-(line.total.per_horn or 0.0), line.kind.name)))


def _age(year: int | None, *, today: date) -> int:
    """Return the place among AGES; the last place is for those whose year nobody knows."""
    if year is None:
        return len(AGES)
    return next(place for place, (most, _) in enumerate(AGES) if today.year - year <= most)


def _unsafe(schools: Sequence[School]) -> tuple[UnsafeLine, ...]:
    """Return the standing faults that are unsafe or one degree from it, unsafe ones first. One query."""
    trade = catalog()
    rows = Finding.objects.standing().filter(instrument__school__in=schools)
    lines = []
    for row in rows.exclude(instrument__whereabouts=Whereabouts.GONE).select_related("instrument__school"):
        kind = row.instrument.kind
        part = next((one for one in kind.parts if one.code == row.part), None)
        steps = steps_to_unsafe(
            fault=row.fault, severity=row.fact.severity, role=part.role if part else "", catalog=trade
        )
        if steps is not None:
            words = finding_name(finding=row.fact, part=part, faults=trade.faults)
            lines.append(UnsafeLine(instrument=row.instrument, words=words, steps=steps))
    return tuple(sorted(lines, key=lambda line: (line.steps, line.instrument.asset_number)))


def _not_started(jobs: Any) -> tuple[Job, ...]:
    """Return the promised jobs with no attempt and no clock running, the first due first. One query."""
    rows = jobs.open().filter(Q(due_on__isnull=False), attempts=None, clock=None)
    return tuple(rows.for_table().order_by("due_on", "pk"))
