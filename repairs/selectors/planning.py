"""Plans of real instruments: the pure rule, fed from the rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property, lru_cache
from typing import Any
from uuid import UUID

from django.db.models import Q

from inventory.catalog.load import catalog
from inventory.catalog.names import methods_for
from inventory.catalog.schema import Catalog, Kind
from inventory.models import Finding, Instrument
from inventory.rules.facts import FindingFact
from inventory.rules.standing import Standing
from inventory.selectors.standing import slides_played, standing_of
from repairs.models import Attempt, Bench, Job, StepClock
from repairs.profiles import usual_bench
from repairs.rules.effort import MethodTimes
from repairs.rules.facts import AttemptFact, BenchFact, Outcome
from repairs.rules.odds import Odds
from repairs.rules.plan import Plan, PlannedStep, RungState, plan_work
from repairs.selectors.demand import group_of, somebody_waits_for, waited_for, waiting_day_amount
from repairs.selectors.learning import learned_odds, learned_times

FAILED = (Outcome.STILL_STUCK, Outcome.NOT_RIGHT, Outcome.STOPPED, Outcome.DAMAGED)
PROVING = "play_test"  # the method that closing a job takes the place of


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """What the attempts so far teach, read once and used for many plans. Two readings are never the same."""

    odds: Odds
    times: MethodTimes


@dataclass(frozen=True)
class JobState:
    """The standing of an instrument in its job: what was tried, the plan that follows, and the clocks as first read."""

    job: Job
    findings: tuple[Finding, ...]  # that stand, and those its own steps have put right
    attempts: tuple[Attempt, ...]
    tries: tuple[AttemptFact, ...]  # the attempts as the planner is told of them
    standing: Standing
    plan: Plan
    is_waited_for: bool  # by a student, and no other instrument of its kind could go out instead
    taught: Learned

    @property
    def kind(self) -> Kind:
        return self.standing.kind

    @cached_property
    def clocks(self) -> tuple[StepClock, ...]:
        """Return the steps that are under way or rest. One query for each job, none where they were read before."""
        return tuple(self.job.clocks.all())

    @cached_property
    def resting(self) -> tuple[StepClock, ...]:
        """Return the steps that soak, dry or set, the first to be ready first."""
        return tuple(sorted((one for one in self.clocks if one.waits_until), key=lambda one: (one.waits_until, one.pk)))

    @cached_property
    def free_steps(self) -> tuple[PlannedStep, ...]:
        """Return the steps that can be done now: nothing comes before them, and what rests leaves their part alone."""
        rest = [step for one in self.resting if (step := step_in(self, one.step_key))]
        return tuple(
            step for step in self.plan.steps if not step.waits_on and not any(_keeps(one, step) for one in rest)
        )

    @property
    def is_waiting(self) -> bool:
        """Whether there is nothing to do but wait."""
        return bool(self.resting) and self.running is None and not self.free_steps

    @cached_property
    def running(self) -> PlannedStep | None:
        """Return the step that was started last and does not rest."""
        keys = [one.step_key for one in self.clocks if not one.waiting_since]
        return next((step for key in reversed(keys) if (step := step_in(self, key))), None)

    @cached_property
    def at_hand(self) -> PlannedStep | None:
        """Return the step whose clock runs, else the first that can be done now, else the first that will be ready."""
        rests = [one.step_key for one in self.resting]
        return (
            self.running
            or next(iter(self.free_steps), None)
            or (step_in(self, rests[0]) if rests else None)
            or self.plan.next_step
        )

    @property
    def is_only_proof_left(self) -> bool:
        return self.at_hand is None or self.at_hand.method == PROVING

    @property
    def steps_in_all(self) -> int:
        return len(self.plan.done) + len(self.plan.steps)

    @property
    def given_up(self) -> dict[str, Attempt]:
        """Return the last tries that failed in this job at parts that are still stuck, by the key of their way."""
        standing = {row.pk for row in self.findings if row.closed_at is None}
        latest = {one.step_key: one for one in self.attempts if one.rung}
        return {
            key: one
            for key, one in latest.items()
            if one.outcome == Outcome.STILL_STUCK and not standing.isdisjoint(one.findings)
        }

    @property
    def left_to_do(self) -> tuple[PlannedStep, ...]:
        """Return the steps before the play test."""
        return tuple(step for step in self.plan.steps if step.method != PROVING)


def _keeps(resting: PlannedStep, step: PlannedStep) -> bool:
    """Whether a step has to wait while another rests: at the same part, or all parts while the instrument dries."""
    if resting.key == step.key or (resting.part and (resting.part, resting.place) == (step.part, step.place)):
        return True
    return not resting.part and bool({"wet", "quarantine"}.intersection(resting.tags)) and bool(step.part)


def learned() -> Learned:
    """One query, three when an attempt has been added since the last call."""
    latest = Attempt.objects.order_by("-pk").values_list("nonce", "outcome", "minutes").first()
    return _learned_up_to(latest, catalog())


@lru_cache(maxsize=2)
def _learned_up_to(_latest: tuple[UUID, str, Decimal | None] | None, _trade: Catalog) -> Learned:
    """Remembered until the next attempt: attempts are only ever added.

    Outcome and minutes tell apart a form that was posted once more, otherwise filled in, after its first attempt had
    been undone.
    """
    return Learned(odds=learned_odds(), times=learned_times())


def bench_for(instrument: Instrument) -> BenchFact:
    """The school's first bench, or the usual school bench where it has none."""
    bench = Bench.objects.filter(school=instrument.school_id).in_use().order_by("pk").first()
    return bench.fact if bench else usual_bench(catalog=catalog())


def plan_for_instrument(
    instrument: Instrument,
    *,
    standing: Standing | None = None,
    job: Job | None = None,
    taught: Learned | None = None,
    bench: BenchFact | None = None,
    is_looks_included: bool = False,
) -> Plan:
    """What would bring it to playing condition, or to looks too: in its open job, or at its school's bench (or the one given)."""
    if job is not None:
        return plan_for_job(job, taught=taught)
    stands = standing or standing_of(instrument)
    open_keys = {int(fact.key) for fact in stands.findings if fact.key.isdigit()}
    return planned(
        stands,
        stands.findings,
        tries=earlier_tries(Attempt.objects.filter(job__instrument=instrument, outcome__in=FAILED), about=open_keys),
        bench=bench or bench_for(instrument),
        is_waited_for=bool(stands.findings) and somebody_waits_for(instrument),
        taught=taught or learned(),
        is_looks_included=is_looks_included,
    )


def job_states(jobs: Sequence[Job], *, taught: Learned | None = None) -> list[JobState]:
    """Return every job with its plan. Three queries, four to six without ``taught``; one more for a stuck slide not measured."""
    facts = taught or learned()
    rows = Finding.objects.filter(instrument__in=[job.instrument_id for job in jobs]).filter(
        Q(closed_at=None) | Q(closed_reference__in=[f"job:{job.pk}" for job in jobs]),
        inspection__finished_at__isnull=False,
    )
    findings: dict[int, list[Finding]] = defaultdict(list)
    for row in rows.order_by("pk"):
        findings[row.instrument_id].append(row)
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    before: dict[int, list[Attempt]] = defaultdict(list)
    mine = {job.pk: job.instrument_id for job in jobs}
    # All are of these instruments: said outside the OR, that is where the database begins, not at every attempt.
    tried = Attempt.objects.filter(Q(job__in=jobs) | Q(outcome__in=FAILED), job__instrument__in=mine.values())
    for attempt in tried.select_related("job").order_by("ended_at", "pk"):
        if attempt.job_id in mine:
            attempts[attempt.job_id].append(attempt)
        else:
            before[attempt.job.instrument_id].append(attempt)
    wanted = waited_for({group_of(job.instrument) for job in jobs})
    slides = slides_played({pk: [row.fact for row in rows if row.closed_at is None] for pk, rows in findings.items()})
    return [
        _state(
            job,
            findings=_own(job, findings[job.instrument_id]),
            attempts=attempts[job.pk],
            before=before[job.instrument_id],
            is_waited_for=group_of(job.instrument) in wanted,
            taught=facts,
            slides=slides,
        )
        for job in jobs
    ]


def earlier_tries(attempts: Iterable[Attempt], *, about: AbstractSet[int]) -> tuple[AttemptFact, ...]:
    """Return what failed in jobs before, at faults that still stand: a new job goes on where the last one stopped."""
    if not about:
        return ()
    return tuple(replace(one.fact, is_earlier=True) for one in attempts if not about.isdisjoint(one.findings))


def _own(job: Job, rows: Sequence[Finding]) -> list[Finding]:
    """What the job is about: findings that stand, and those its own steps have put right."""
    return [row for row in rows if row.closed_at is None or row.closed_reference == f"job:{job.pk}"]


def _state(
    job: Job,
    *,
    findings: Sequence[Finding],
    attempts: Sequence[Attempt],
    before: Sequence[Attempt],
    is_waited_for: bool,
    taught: Learned,
    slides: Mapping[int, float],
) -> JobState:
    stands = standing_of(
        job.instrument,
        findings=[row.fact for row in findings if row.closed_at is None],
        is_inspected=True,
        slides=slides,
    )
    tries, undone = _facts(attempts, findings=findings, kind=stands.kind)
    open_findings = tuple(row for row in findings if row.pk not in undone)
    earlier = [attempt for attempt in before if attempt.ended_at <= job.opened_at]
    tries = (*earlier_tries(earlier, about={row.pk for row in findings if row.closed_at is None}), *tries)
    return JobState(
        job=job,
        findings=open_findings,
        attempts=tuple(attempts),
        tries=tries,
        standing=stands,
        plan=_planned_in_job(job, stands, open_findings, tries, is_waited_for=is_waited_for, taught=taught),
        is_waited_for=is_waited_for,
        taught=taught,
    )


def _planned_in_job(
    job: Job,
    standing: Standing,
    findings: Sequence[Finding],
    tries: Sequence[AttemptFact],
    *,
    is_waited_for: bool,
    taught: Learned,
) -> Plan:
    """Plan the job's findings, those on parts that the instrument no longer has left out."""
    return planned(
        standing,
        tuple(row.fact for row in findings if standing.kind.has(row.part, row.place)),
        bench=job.bench.fact,
        tries=tuple(tries),
        retry=tuple(job.retry_keys),
        is_waited_for=is_waited_for,
        taught=taught,
    )


@lru_cache(maxsize=600)
def planned(
    standing: Standing,
    findings: tuple[FindingFact, ...],
    *,
    bench: BenchFact,
    tries: tuple[AttemptFact, ...] = (),
    retry: tuple[str, ...] = (),
    is_waited_for: bool,
    taught: Learned,
    is_looks_included: bool = False,
) -> Plan:
    """Plan, or take the plan from memory: a list of many jobs is looked at again and again.

    An attempt anywhere teaches something, so every plan is made again after it; the judgement of the standing stays.
    """
    return plan_work(
        kind=standing.kind,
        catalog=standing.catalog,
        findings=findings,
        bench=bench,
        attempts=tries,
        odds=taught.odds,
        times=taught.times,
        waiting_day_amount=waiting_day_amount(is_waited_for=is_waited_for),
        effects=standing.effects,
        retry=retry,
        owed=standing.owed,
        is_looks_included=is_looks_included,
    )


def _facts(
    attempts: Sequence[Attempt], *, findings: Sequence[Finding], kind: Kind
) -> tuple[tuple[AttemptFact, ...], set[int]]:
    """Return the tries, a success undone where its fault was found again later, and the old findings that this drops.

    Otherwise a repair that did not hold would count as done and nothing more would be planned for it. What was done to
    the whole instrument, a bath or all the pads, has not held either where such a fault is found later at any part.
    """
    rows = {row.pk: row for row in findings}
    again = {(row.part, row.place, row.fault): row.found_at for row in findings if row.closed_at is None}
    tries: list[AttemptFact] = []
    undone: set[int] = set()
    for attempt in attempts:
        fact = attempt.fact
        old = [rows[pk] for pk in attempt.findings if pk in rows and rows[pk].closed_at is not None]
        seen = [again.get((row.part, row.place, row.fault)) for row in old]
        seen += [row.found_at for row in findings if row.closed_at is None and _was_for(attempt.method, row, kind=kind)]
        if fact.outcome.is_success and any(found and found >= attempt.ended_at for found in seen):
            fact = replace(fact, outcome=Outcome.STILL_STUCK if fact.rung else Outcome.NOT_RIGHT)
            undone |= {row.pk for row in old}
        tries.append(fact)
    return tuple(tries), undone


def _was_for(code: str, row: Finding, *, kind: Kind) -> bool:
    """Whether this work on the whole instrument is what would be done about a finding."""
    trade = catalog()
    method = trade.methods.get(code)
    if method is None or not method.whole or row.fault not in method.fixes or not kind.has(row.part):
        return False
    usual = methods_for(
        catalog=trade, kind=kind, fault=row.fault, role=kind.part(row.part).role, severity=row.fact.severity
    )
    single = {other for one in trade.overhauls.values() if one.method == code for other in one.instead_of}
    return code in usual or bool(single.intersection(usual))


def job_state(job: Job, *, taught: Learned | None = None) -> JobState:
    """Return one job with its plan. Four to six queries, three with ``taught``."""
    return job_states([job], taught=taught)[0]


def plan_for_job(job: Job, *, taught: Learned | None = None) -> Plan:
    """The plan as it stands after every attempt of the job. Four to six queries, three with ``taught``."""
    return job_state(job, taught=taught).plan


def step_of(job: Job, plan: Plan, key: str, *, taught: Learned | None = None) -> PlannedStep | None:
    """Return the step with this key, or None.

    A rung that nothing gentler holds back may be taken before the ones ordered ahead of it: it is planned as if those
    had been left out, and they stay to be tried.
    """
    return plan.step(key) or step_in(job_state(job, taught=taught), key)


def step_in(state: JobState, key: str) -> PlannedStep | None:
    """The same, where the state of the job is known. No query."""
    step = state.plan.step(key)
    ladder = next((one for one in state.plan.ladders if any(rung.step_key == key for rung in one.ahead)), None)
    if step is not None or ladder is None:
        return step
    passed = [rung.step_key for rung in ladder.ahead if rung.step_key != key and rung.state is not RungState.OUTSIDE]
    again = _planned_in_job(
        state.job,
        state.standing,
        state.findings,
        [*state.tries, *map(_left_out, passed)],
        is_waited_for=state.is_waited_for,
        taught=state.taught,
    )
    return again.step(key)


def _left_out(key: str) -> AttemptFact:
    method, part, place, rung = key.split(":")
    return AttemptFact(step_key=key, method=method, rung=rung, part=part, place=place, outcome=Outcome.SKIPPED)


def jobs_with_next_step(user: Any, *, limit: int = 12, bench: str = "") -> list[JobState]:
    """Open jobs the user may see, the first due first, those that wait last. Six queries, however many jobs."""
    rows = Job.objects.visible_to(user).open()
    if bench:
        rows = rows.filter(bench__code=bench)
    first = rows.first_due()[:limit].keys_first().for_table().prefetch_related("clocks")
    return sorted(job_states(list(first)), key=lambda state: state.is_waiting)
