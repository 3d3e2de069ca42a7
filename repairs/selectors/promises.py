"""What finished jobs and timed methods took, against what was planned with the knowledge of the day."""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import Exists, OuterRef

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog
from inventory.models import Finding
from inventory.selectors.standing import standing_of
from repairs.models import Attempt, Job, JobQuerySet
from repairs.rules.effort import Range, TimeRecord, learn_times
from repairs.rules.facts import Outcome
from repairs.rules.odds import Try
from repairs.rules.plan import plan_work
from repairs.rules.promises import Kept, Promise, promises_kept
from repairs.selectors.learning import RECENT, TIMED, TRIED, TRY, odds_of, record_of, times_of, tries_in, tries_of
from repairs.selectors.planning import PROVING, Learned

MOST = 60  # jobs looked back on; each is planned afresh

OVER = 1.15  # times the estimate, from where a method is said to run over; less is the day's luck. Shop default
OVER_RECORDS = 4  # times recorded before anything is said


def judged_jobs(rows: JobQuerySet) -> list[int]:
    """Return the keys of the latest jobs that ended in a play test with every step timed. One query."""
    attempts = Attempt.objects.filter(job=OuterRef("pk"))
    untimed = attempts.filter(minutes=None).exclude(outcome=Outcome.SKIPPED)
    finished = rows.filter(Exists(attempts), ~Exists(untimed), closed_at__isnull=False, play_test__isnull=False)
    return list(finished.order_by("-closed_at", "-pk").values_list("pk", flat=True)[:MOST])


def kept_everywhere() -> Kept:
    """Return how well the district's promises were kept. Eight queries, two while nothing has been tried since."""
    return promises_kept(past_promises(judged_jobs(Job.objects.all())))


def past_promises(jobs: Sequence[int]) -> list[Promise]:
    """Return one promise per job, the oldest job first. Seven queries; remembered until the next attempt."""
    latest = Attempt.objects.order_by("-pk").values_list("nonce", "outcome", "minutes").first()
    return list(_promises(latest, tuple(sorted(jobs)), catalog()))


class _Known:
    """What attempts had taught at each moment from ``since`` to ``until``. Three queries.

    All before is read as the planner reads it, summed up, so that a long history takes no longer than a short one.
    """

    def __init__(self, *, since: datetime, until: datetime) -> None:
        before = Attempt.objects.filter(ended_at__lte=since)
        self.tries = [(since, one) for one in tries_of(before)]
        self.times = [(since, one) for one in reversed(times_of(before))]
        rows = Attempt.objects.filter(ended_at__gt=since, ended_at__lte=until).order_by("ended_at", "pk")
        set_up = set[tuple[Any, ...]]()
        for at, job, minutes, person, *row in rows.values_list("ended_at", "job_id", "minutes", "actor_id", *TRY):
            method, rung, _, kind, outcome, _ = row
            if rung and outcome in TRIED:
                self.tries += [(at, one) for one in tries_in(row)]
            if outcome in TIMED and minutes:
                record = record_of(job, method, rung, minutes, kind, person, set_up=set_up)
                self.times += [(at, record)] if record else []

    def tries_until(self, moment: datetime) -> list[Try]:
        return [one for _, one in self.tries[: bisect_right(self.tries, moment, key=lambda row: row[0])]]

    def times_until(self, moment: datetime) -> list[TimeRecord]:
        known = self.times[: bisect_right(self.times, moment, key=lambda row: row[0])]
        return [one for _, one in known[-RECENT:]]


@lru_cache(maxsize=4)
def _promises(
    _latest: tuple[object, str, Decimal | None] | None, keys: tuple[int, ...], _trade: Catalog
) -> tuple[Promise, ...]:
    jobs = Job.objects.filter(pk__in=keys).for_table().prefetch_related("attempts").order_by("opened_at", "pk")
    findings: dict[int, list[Finding]] = defaultdict(list)
    rows = Finding.objects.filter(instrument__jobs__in=keys, inspection__finished_at__isnull=False)
    for row in rows.select_related("inspection").order_by("pk").distinct():
        findings[row.instrument_id].append(row)
    opened = [job.opened_at for job in jobs]
    if not opened:
        return ()
    known = _Known(since=min(opened), until=max(opened))
    return tuple(_promise(job, findings=findings[job.instrument_id], known=known) for job in jobs)


@lru_cache(maxsize=2)
def _timeless(trade: Catalog) -> Catalog:
    """The catalog with a play test that takes no time, since nobody times it."""
    proof = replace(trade.methods[PROVING], minutes=(0, 0, 0))
    return replace(trade, methods={**trade.methods, PROVING: proof})


def _promise(job: Job, *, findings: Sequence[Finding], known: _Known) -> Promise:
    opened = job.opened_at
    facts = [
        row.fact
        for row in findings
        if (row.inspection.finished_at or opened) <= opened and (row.closed_at is None or row.closed_at > opened)
    ]
    stands = standing_of(job.instrument, findings=facts, is_inspected=True, slides={})
    plan = plan_work(
        kind=stands.kind,
        catalog=_timeless(stands.catalog),
        findings=stands.findings,
        bench=job.bench.fact,
        odds=odds_of(known.tries_until(opened)),
        times=learn_times(known.times_until(opened)),
        effects=stands.effects,
    )
    promised = plan.taken.attended_minutes
    return Promise(
        key=str(job.pk),
        p50=promised.p50,
        p80=promised.p80,
        truth=sum(float(attempt.minutes or 0) for attempt in job.attempts.all()),
    )


@dataclass(frozen=True, slots=True)
class MethodLine:
    name: str
    records: int
    median: float  # minutes, as of a small instrument
    start: Range
    now: Range
    ratio: float  # mean of the recorded minutes over the likely ones

    @property
    def runs_over(self) -> bool:
        return self.records >= OVER_RECORDS and self.ratio >= OVER

    @property
    def percent_over(self) -> int:
        return round((self.ratio - 1.0) * 100)

    @property
    def percent_under(self) -> int:
        return -self.percent_over


@lru_cache(maxsize=2)
def method_lines(taught: Learned) -> tuple[MethodLine, ...]:
    """Return every method (and rung) timed here, the most often timed first. One query, none until more is learned."""
    times = taught.times
    ratios: dict[str, list[float]] = defaultdict(list)
    for record in times_of(Attempt.objects.all()):
        ratios[record.method].append(record.minutes / record.likely)
    lines = []
    for key, pace in times.by_method.items():
        name, start = _named(key)
        if start is not None and ratios[key]:
            lines.append(
                MethodLine(
                    name=name,
                    records=pace.records,
                    median=start.likely * statistics.median(ratios[key]),
                    start=start,
                    now=times.learned(key, start),
                    ratio=math.exp(pace.log_mean),
                )
            )
    return tuple(sorted(lines, key=lambda line: (-line.records, line.name)))


def _named(key: str) -> tuple[str, Range | None]:
    """The name and the starting minutes of a method, or of ``ladder.rung``."""
    trade = catalog()
    ladder, _, rung = key.partition(".")
    if rung and ladder in trade.ladders:
        found = next((one for one in trade.ladders[ladder].rungs if one.code == rung), None)
        return (f"{found.name} ({trade.ladders[ladder].name})", Range(*found.minutes)) if found else (key, None)
    method = trade.methods.get(key)
    return (method.name, Range(*method.minutes)) if method else (key, None)
