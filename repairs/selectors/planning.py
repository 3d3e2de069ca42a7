"""Plans of real instruments: the pure rule, fed from the rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.catalog.load import catalog
from inventory.catalog.schema import Effect
from inventory.models import Finding, Instrument
from inventory.rules.facts import FindingFact
from inventory.rules.verdict import Judgement
from inventory.services.state import judgement_of
from repairs.models import Bench, Job
from repairs.profiles import bench_profile
from repairs.rules.effort import MethodTimes
from repairs.rules.facts import BenchFact
from repairs.rules.odds import Odds
from repairs.rules.plan import Plan, plan_work
from repairs.selectors.learning import learned_odds, learned_times

DEFAULT_BENCH = "school"


@dataclass(frozen=True, slots=True)
class Learned:
    """What the attempts so far teach, read once and used for many plans."""

    odds: Odds
    times: MethodTimes


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job with the next thing to do in it."""

    job: Job
    say: str
    minutes: float | None
    done: int
    total: int
    is_waiting: bool


def learned() -> Learned:
    """Two queries."""
    return Learned(odds=learned_odds(), times=learned_times())


def bench_for(instrument: Instrument) -> BenchFact:
    """The school's first bench, or the usual school bench where it has none."""
    bench = Bench.objects.filter(school=instrument.school_id).order_by("pk").first()
    return bench.fact if bench else bench_profile(DEFAULT_BENCH, catalog=catalog())


def plan_for_instrument(
    instrument: Instrument, *, judgement: Judgement | None = None, job: Job | None = None, taught: Learned | None = None
) -> Plan:
    """What would bring it to playing condition: in its open job, or at its school's bench."""
    if job is not None:
        return plan_for_job(job, taught=taught)
    judged = judgement or judgement_of(instrument)
    facts = taught or learned()
    return plan_work(
        kind=instrument.kind,
        catalog=catalog(),
        findings=[effect.finding for effect in judged.effects],
        bench=bench_for(instrument),
        odds=facts.odds,
        times=facts.times,
        effects=effects_of(judged),
    )


def effects_of(judgement: Judgement) -> Mapping[FindingFact, Effect]:
    return {effect.finding: effect.effect for effect in judgement.effects}


def job_findings(job: Job) -> Sequence[FindingFact]:
    """What the job is about: findings that stand, and those its own steps have put right. One query."""
    rows = Finding.objects.filter(instrument=job.instrument_id, inspection__finished_at__isnull=False)
    own = rows.filter(closed_at=None) | rows.filter(closed_reference=f"job:{job.pk}")
    left = set(job.left_findings)
    return [row.fact for row in own.order_by("pk") if row.pk not in left]


def plan_for_job(job: Job, *, taught: Learned | None = None) -> Plan:
    """The plan as it stands after every attempt of the job. Five queries, fewer with ``taught``."""
    facts = taught or learned()
    judged = judgement_of(job.instrument)
    return plan_work(
        kind=job.instrument.kind,
        catalog=catalog(),
        findings=job_findings(job),
        bench=job.bench.fact,
        attempts=job.attempts.order_by("ended_at", "pk").facts(),
        odds=facts.odds,
        times=facts.times,
        effects=effects_of(judged),
        retry=job.retry_keys,
    )


def jobs_with_next_step(user: Any, *, limit: int = 12) -> list[JobLine]:
    """Open jobs the user may see, oldest due first, each with its next step."""
    jobs = (
        Job.objects.visible_to(user).open().for_table().select_related("clock").order_by("due_on", "opened_at")[:limit]
    )
    taught = learned()
    return [job_line(job, taught=taught) for job in jobs]


def job_line(job: Job, *, taught: Learned | None = None) -> JobLine:
    plan = plan_for_job(job, taught=taught)
    step = plan.next_step
    return JobLine(
        job=job,
        say=step.say if step else "Play-test it" if not plan.steps else "Waiting",
        minutes=step.minutes.likely if step else None,
        done=len(plan.done),
        total=len(plan.done) + len(plan.steps),
        is_waiting=hasattr(job, "clock"),
    )
