"""What it would take to make each of many instruments play: by its job, its order, its school's bench, or a shop."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import ROUND_UP, Decimal
from statistics import median

from core.money import CENT, cents
from inventory.catalog.load import catalog
from inventory.models import Instrument, School
from inventory.selectors.standing import standings_of
from repairs.models import Attempt, Bench, Job, ShopOrder, WorthDecision
from repairs.profiles import usual_bench
from repairs.rules.facts import BenchFact
from repairs.rules.plan import Plan
from repairs.selectors.demand import group_of, waited_for
from repairs.selectors.planning import FAILED, earlier_tries, job_states, learned, planned
from repairs.selectors.shops import records

MINUTES = 60


@dataclass(frozen=True, slots=True)
class Work:
    """One way to playing condition, as four times in five it stays within. A shop's part is in its price."""

    hours: Decimal  # attended, at the bench
    parts_amount: Decimal  # at the high end of their prices
    shop_amount: Decimal
    days: int  # until it is done, if somebody begins today; without the days of a shop


@dataclass(frozen=True, slots=True)
class Outlook:
    """What can be done about one instrument. ``here`` and ``outside`` are None where that is no way."""

    here: Work | None = None
    outside: Work | None = None
    bench: str = ""  # code; "": the school has none
    job: Job | None = None
    order: ShopOrder | None = None
    is_refused: bool = False  # somebody refused to spend on it


def shop_days() -> int | None:
    """Return how long shops had an instrument, the median over kinds of work; None where none came back. One query."""
    days = [one.median_days for one in records()]
    return round(median(days)) if days else None


def outlooks_of(school: School, instruments: Collection[Instrument]) -> dict[int, Outlook]:
    """Return by key what can be done about each of a school's instruments. A fixed number of queries.

    What nobody has inspected since it came has no way: nobody knows what it needs.
    """
    keys = [row.pk for row in instruments]
    jobs = {job.instrument_id: job for job in Job.objects.open().filter(instrument__in=keys).for_table()}
    orders = {row.instrument_id: row for row in ShopOrder.objects.open().filter(instrument__in=keys)}
    latest = WorthDecision.objects.filter(instrument__in=keys).in_force().order_by("pk")
    refused = {row.instrument_id for row in {row.instrument_id: row for row in latest}.values() if row.is_refused}
    is_open = {row.pk for row in instruments if row.pk not in jobs and row.pk not in orders}
    is_open |= {key for key, order in orders.items() if order.known_amount is None}  # nobody has said a price
    rest = [row for row in instruments if row.pk in is_open and row.inspected_at is not None]
    bench = Bench.objects.filter(school=school).in_use().order_by("pk").first()
    found = {
        state.job.instrument_id: Outlook(here=_here(state.plan), bench=state.job.bench.code, job=state.job)
        for state in job_states(list(jobs.values()))
        if state.job.instrument_id not in orders
    }
    fact = bench.fact if bench else usual_bench(catalog=catalog())
    code = bench.code if bench else ""
    found |= {
        key: Outlook(here=_here(here), outside=_outside(outside), bench=code)
        for key, (here, outside) in _plans(rest, bench=fact).items()
    }
    found |= {
        key: Outlook(order=order, job=jobs.get(key), outside=found[key].outside if key in found else None)
        for key, order in orders.items()
    }
    return {row.pk: replace(found.get(row.pk, Outlook()), is_refused=row.pk in refused) for row in instruments}


def _plans(instruments: Collection[Instrument], *, bench: BenchFact) -> dict[int, tuple[Plan, Plan]]:
    """Return by key the plan of the bench, and that of one which can do nothing: all of it goes to a shop."""
    bare = BenchFact(
        code="", tools=frozenset(), methods=frozenset(), has_torch=False, has_chemicals=False,
        rate_amount=bench.rate_amount,
    )  # fmt: skip
    standings = standings_of(instruments)
    keys = {pk: {int(fact.key) for fact in one.findings if fact.key.isdigit()} for pk, one in standings.items()}
    tries: dict[int, list[Attempt]] = defaultdict(list)
    failed = Attempt.objects.filter(job__instrument__in=list(standings), outcome__in=FAILED)
    for attempt in failed.select_related("job").order_by("ended_at", "pk"):
        tries[attempt.job.instrument_id].append(attempt)
    wanted, taught = waited_for({group_of(row) for row in instruments}), learned()
    plans = {}
    for row in instruments:
        standing, waits = standings[row.pk], group_of(row) in wanted
        before = earlier_tries(tries[row.pk], about=keys[row.pk])
        here, outside = (
            planned(standing, standing.findings, tries=tried, bench=one, is_waited_for=waits, taught=taught)
            for one, tried in ((bench, before), (bare, ()))
        )
        plans[row.pk] = here, outside
    return plans


def _here(plan: Plan) -> Work | None:
    """Return what the bench takes, with what it sends out; None where no shop can do that either."""
    if not all(one.method for one in plan.send_out):
        return None
    taken = plan.taken
    parts = sum((need.high for step in plan.steps for need in step.parts), Decimal(0))
    return Work(
        hours=(Decimal(str(taken.attended_minutes.p80)) / MINUTES).quantize(CENT, rounding=ROUND_UP),
        parts_amount=cents(parts),
        shop_amount=cents(taken.outside_cost.p80),
        days=int(taken.elapsed_days.p80 + 1),
    )


def _outside(plan: Plan) -> Work | None:
    """Return what a shop asks for all of it; None where there is nothing for a shop, or it cannot do it."""
    if not plan.send_out or not all(one.method for one in plan.send_out):
        return None
    return Work(Decimal(0), Decimal(0), shop_amount=cents(plan.taken.outside_cost.p80), days=0)
