"""A repair job from opening to the play test that closes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from core.models import User
from core.money import cents
from core.photos import CleanPhoto
from inventory.exceptions import RefusedError
from inventory.models import Closed, Instrument, Photo, PlayTest, Whereabouts
from inventory.services.care import keep_photo, record_play_test
from inventory.services.inspecting import add_bench_finding, close_findings
from inventory.services.state import move_instrument
from inventory.services.telling import tell
from repairs.exceptions import (
    AtShopError,
    CautionsFirstError,
    JobClosedError,
    JobOpenError,
    NotProvedError,
    StepRefusedError,
)
from repairs.models import Attempt, Bench, Job, Outcome, StepClock
from repairs.rules.plan import Plan, PlannedStep, Savings, may_do, savings
from repairs.selectors.planning import PROVING, plan_for_job, step_of
from repairs.services.stock import use_stock_for

TIMED_AT_MOST = Decimal(480)  # minutes; a clock left running overnight teaches nothing


@dataclass(frozen=True, slots=True)
class Damage:
    """What got damaged at a step, as it is entered: a fault at a part, and how bad."""

    part: str
    fault: str
    severity: str
    place: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class StepResult:
    """What an outcome changed. ``was_known`` says that the same form had been posted before."""

    attempt: Attempt
    plan: Plan
    savings: Savings | None
    was_known: bool = False


@transaction.atomic
def open_job(
    *, instrument: Instrument, bench: Bench, actor: User, at: datetime, because: str = "", due_on: date | None = None
) -> Job:
    """Take it from the store to the bench. Refuses if it is elsewhere, kept for its parts, or a job is open."""
    if Instrument.objects.filter(pk=instrument.pk, is_parts_horn=True).exists():
        raise RefusedError(f"{instrument.asset_number} is kept for its parts. Put it back among those that play first.")
    if Job.objects.open().filter(instrument=instrument).exists():
        raise JobOpenError(f"There is a job open on {instrument.asset_number} already.")
    try:
        with transaction.atomic():
            job = Job.objects.create(
                instrument=instrument, bench=bench, opened_at=at, opened_by=actor, because=because[:200], due_on=due_on
            )
    except IntegrityError:
        raise JobOpenError(f"There is a job open on {instrument.asset_number} already.") from None
    move_instrument(
        instrument=instrument,
        expected=Whereabouts.IN_STORE,
        to=Whereabouts.ON_BENCH,
        actor=actor,
        at=at,
        reference=f"job:{job.pk}",
    )
    _tell(job, "job_opened", actor=actor, at=at, after={"bench": bench.code, "due_on": due_on})
    return job


def _tell(job: Job, act: str, *, actor: User, at: datetime, after: dict[str, Any]) -> None:
    tell(
        instrument=job.instrument,
        act=act,
        subject=job,
        actor=actor,
        at=at,
        after=after,
    )


def _open(job: Job) -> Job:
    """The job, locked for this transaction; refuses one that somebody has closed meanwhile."""
    fresh = Job.objects.select_for_update(of=("self",)).select_related("instrument__school", "bench").get(pk=job.pk)
    if fresh.closed_at is not None:
        raise JobClosedError("Somebody has closed this job meanwhile. What you entered was not added; nothing is lost.")
    if fresh.instrument.whereabouts == Whereabouts.AT_SHOP:
        raise AtShopError("It is at a shop. Note there that it is back first; nothing was changed.")
    return fresh


@transaction.atomic
def acknowledge_cautions(*, job: Job, actor: User, at: datetime) -> None:
    """Note that the cautions for hot, chemical and sharp work were read; once per job is enough."""
    fresh = _open(job)
    if fresh.cautions_at is None:
        Job.objects.filter(pk=fresh.pk).update(cautions_at=at, cautions_by=actor)
        _tell(fresh, "cautions_acknowledged", actor=actor, at=at, after={})


def _step(job: Job, plan: Plan, key: str) -> PlannedStep:
    """The step, if it may be done now; the refusal says what comes first."""
    refusal = may_do(plan, key)
    if refusal is not None:
        raise StepRefusedError(f"Not now: {refusal.reason}.")
    step = step_of(job, plan, key)
    if step is None:
        raise StepRefusedError("This step is not in the plan any more. Somebody may have done it.")
    if step.acknowledgements and job.cautions_at is None:
        raise CautionsFirstError("Read the cautions first; once for this job is enough.")
    return step


@transaction.atomic
def start_step(*, job: Job, step_key: str, actor: User, at: datetime) -> StepClock:
    """Start the clock on a step; starting another step moves the clock to it."""
    fresh = _open(job)
    step = _step(fresh, plan_for_job(fresh), step_key)
    clock, _ = StepClock.objects.update_or_create(
        job=fresh,
        defaults={
            "step_key": step.key, "started_at": at, "actor": actor, "waiting_since": None, "waits_until": None,
        },
    )  # fmt: skip
    return clock


@transaction.atomic
def let_it_wait(*, job: Job, step_key: str, actor: User, at: datetime) -> StepClock:
    """The hands-on part is done and the rest needs nobody: it soaks, dries or sets until the step's wait is over.

    Refuses a step that has no wait. A wait that runs already goes on as it is.
    """
    fresh = _open(job)
    step = _step(fresh, plan_for_job(fresh), step_key)
    if step.wait_h <= 0:
        raise StepRefusedError("There is nothing to wait for at this step.")
    clock = StepClock.objects.filter(job=fresh, step_key=step.key).first()
    if clock is not None and clock.waiting_since is not None:
        return clock
    started_at = clock.started_at if clock else at
    clock, _ = StepClock.objects.update_or_create(
        job=fresh,
        defaults={
            "step_key": step.key,
            "started_at": started_at,
            "waiting_since": at,
            "waits_until": at + timedelta(hours=float(step.wait_h)),
            "actor": actor,
        },
    )
    _tell(fresh, "step_waits", actor=actor, at=at, after={"step": step.key, "until": clock.waits_until})
    return clock


@transaction.atomic
def stop_clock(*, job: Job, actor: User, at: datetime) -> None:
    """Take back a start that was tapped by mistake; a wait that ends so is told, because its start was."""
    fresh = _open(job)
    clock = StepClock.objects.filter(job=fresh).first()
    if clock is None:
        return
    clock.delete()
    if clock.waiting_since is not None:
        _tell(fresh, "step_wait_stopped", actor=actor, at=at, after={"step": clock.step_key})


@transaction.atomic
def do_step(
    *,
    job: Job,
    step_key: str,
    outcome: str,
    actor: User,
    at: datetime,
    nonce: UUID,
    minutes: Decimal | None = None,
    parts_used: Sequence[dict[str, Any]] | None = None,
    note: str = "",
    photo: Photo | None = None,
    picture: CleanPhoto | None = None,
    damage: Damage | None = None,
) -> StepResult:
    """Keep what happened at a step, close what it put right, and plan anew; ``damage`` joins the plan as a finding.

    The same nonce again changes nothing and returns what was kept. Refuses a closed job, a step that may not be done
    now, an outcome that does not fit, and hot work before the cautions.
    """
    known = Attempt.objects.filter(nonce=nonce, job=job).first()
    if known is not None:
        return StepResult(known, plan_for_job(job), None, was_known=True)
    fresh = _open(job)
    twin = Attempt.objects.filter(nonce=nonce, job=job).first()  # posted at the same moment, kept while this one waited
    if twin is not None:
        return StepResult(twin, plan_for_job(fresh), None, was_known=True)
    before = plan_for_job(fresh)
    step = _step(fresh, before, step_key)
    if step.method == PROVING:
        raise StepRefusedError("The play test closes the job; do it on its own page.")
    fits = {Outcome.FREED, Outcome.STILL_STUCK} if step.rung else {Outcome.DONE, Outcome.NOT_RIGHT}
    if outcome not in fits | {Outcome.SKIPPED, Outcome.STOPPED, Outcome.DAMAGED}:
        raise StepRefusedError(f"That is no outcome of this step: {outcome}.")
    clock = StepClock.objects.filter(job=fresh, step_key=step.key).first()
    if picture is not None:
        photo = keep_photo(
            instrument=fresh.instrument, photo=picture, part=step.part, caption=step.say[:200], actor=actor, at=at
        )
    attempt = Attempt.objects.create(
        job=fresh,
        nonce=nonce,
        step_key=step.key,
        method=step.method,
        rung=step.rung,
        part=step.part,
        place=step.place,
        findings=[int(fact.key) for fact in step.findings if fact.key.isdigit()],
        outcome=outcome,
        started_at=clock.started_at if clock else None,
        ended_at=at,
        minutes=minutes if minutes is not None else _timed(clock, step, at),
        parts_used=list(parts_used if parts_used is not None else _usual_parts(step, outcome)),
        parts_amount=_amount(parts_used, step, outcome),
        note=note,
        photo=photo,
        actor=actor,
    )
    use_stock_for(attempt=attempt, actor=actor, at=at)
    if clock:
        clock.delete()
    if step.key in fresh.retry_keys:
        Job.objects.filter(pk=fresh.pk).update(retry_keys=[key for key in fresh.retry_keys if key != step.key])
    after = {
        "step": step.key,
        "method": step.method,
        "outcome": str(outcome),
        "say": f"{step.say}: {Outcome(outcome).label.lower()}",
    }
    _tell(fresh, "step_done", actor=actor, at=at, after=after)
    if outcome in {Outcome.DONE, Outcome.FREED} and attempt.findings:
        close_findings(
            instrument=fresh.instrument,
            finding_ids=attempt.findings,
            because=Closed.REPAIRED,
            reference=f"job:{fresh.pk}",
            actor=actor,
            at=at,
        )
    if damage is not None:
        _note_damage(fresh, damage, actor=actor, at=at)
    plan = plan_for_job(Job.objects.select_related("instrument__school", "bench").get(pk=fresh.pk))
    saved = savings(before, plan) if outcome == Outcome.FREED else None
    return StepResult(attempt, plan, saved)


def _note_damage(job: Job, damage: Damage, *, actor: User, at: datetime) -> None:
    add_bench_finding(
        instrument=job.instrument,
        part=damage.part,
        fault=damage.fault,
        severity=damage.severity,
        place=damage.place,
        note=damage.note,
        actor=actor,
        at=at,
    )


def _timed(clock: StepClock | None, step: PlannedStep, at: datetime) -> Decimal | None:
    """Attended minutes by the clock; None without one, when it ran overnight, or when nobody said where a wait began."""
    if clock is None or (step.wait_h > 0 and clock.waiting_since is None):
        return None
    minutes = Decimal(str(((clock.waiting_since or at) - clock.started_at).total_seconds() / 60))
    return minutes.quantize(Decimal("0.1")) if 0 < minutes <= TIMED_AT_MOST else None


def _usual_parts(step: PlannedStep, outcome: str) -> list[dict[str, Any]]:
    if outcome in {Outcome.SKIPPED, Outcome.STOPPED}:
        return []
    return [
        {"code": need.code, "quantity": str(need.quantity), "amount": str(cents(need.middle))} for need in step.parts
    ]


def _amount(parts_used: Sequence[dict[str, Any]] | None, step: PlannedStep, outcome: str) -> Decimal:
    rows = _usual_parts(step, outcome) if parts_used is None else parts_used
    return sum((Decimal(str(row.get("amount", 0))) for row in rows), Decimal(0))


@transaction.atomic
def ask_again(*, job: Job, step_key: str, actor: User, at: datetime) -> None:
    """Offer a rung once more that was tried already."""
    fresh = _open(job)
    if step_key not in fresh.retry_keys:
        Job.objects.filter(pk=fresh.pk).update(retry_keys=[*fresh.retry_keys, step_key])
        _tell(fresh, "asked_again", actor=actor, at=at, after={"step": step_key})


@transaction.atomic
def add_finding_to_job(
    *, job: Job, part: str, fault: str, severity: str, actor: User, at: datetime, place: str = "", note: str = ""
) -> Plan:
    """Something new seen on the bench joins the plan."""
    fresh = _open(job)
    add_bench_finding(
        instrument=fresh.instrument,
        part=part,
        fault=fault,
        severity=severity,
        place=place,
        note=note,
        actor=actor,
        at=at,
    )
    return plan_for_job(Job.objects.select_related("instrument__school", "bench").get(pk=fresh.pk))


@transaction.atomic
def prove_job(
    *,
    job: Job,
    result: str,
    actor: User,
    at: datetime,
    leaves_rest: bool = False,
    found_again: Sequence[dict[str, str]] = (),
    **test: Any,
) -> Job:
    """Play-test it; 'pass' and 'limits' close the job and put the horn back in store, 'fail' keeps the job open.

    ``found_again`` are re-checks that were not good ({"part", "fault", "severity", "place"}); they become findings and
    keep the job open. ``leaves_rest`` closes with steps undone, which only 'limits' allows. ``test`` goes to
    record_play_test. Raises NotProvedError naming the steps that are left.
    """
    fresh = _open(job)
    for again in found_again:
        add_bench_finding(instrument=fresh.instrument, actor=actor, at=at, **again)
    if found_again:
        _tell(fresh, "recheck_failed", actor=actor, at=at, after={"count": len(found_again)})
        return Job.objects.get(pk=fresh.pk)
    plan = plan_for_job(fresh)
    rest = [step for step in plan.steps if step.method != PROVING]
    if rest and result != PlayTest.Result.FAIL and not (leaves_rest and result == PlayTest.Result.LIMITS):
        names = "; ".join(step.say for step in rest[:4])
        raise NotProvedError(f"Steps are left: {names}. Do them, or close with limits and say what is left.")
    played = record_play_test(instrument=fresh.instrument, result=result, actor=actor, at=at, **test)
    if result == PlayTest.Result.FAIL:
        return Job.objects.get(pk=fresh.pk)
    return _close(fresh, actor=actor, at=at, play_test=played)


@transaction.atomic
def give_up_job(*, job: Job, because: str, actor: User, at: datetime) -> Job:
    """End a job without a play test (parts horn, waits for money); the reason is kept and the verdict stays."""
    if not because.strip():
        raise RefusedError("Say why the job ends here.")
    return _close(_open(job), actor=actor, at=at, because=because.strip()[:200])


def _close(job: Job, *, actor: User, at: datetime, play_test: PlayTest | None = None, because: str = "") -> Job:
    closed = Job.objects.filter(pk=job.pk, closed_at=None).update(
        closed_at=at, closed_by=actor, play_test=play_test, ended_because=because
    )
    if not closed:
        raise JobClosedError("Somebody has closed this job meanwhile.")
    StepClock.objects.filter(job=job).delete()
    move_instrument(
        instrument=job.instrument,
        expected=Whereabouts.ON_BENCH,
        to=Whereabouts.IN_STORE,
        actor=actor,
        at=at,
        reference=f"job:{job.pk}",
    )
    _tell(job, "job_closed", actor=actor, at=at, after={"play_test": play_test.pk if play_test else None})
    return Job.objects.get(pk=job.pk)
