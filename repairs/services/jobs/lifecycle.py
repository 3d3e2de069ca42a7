"""A job from the store to the bench and back: opened, and proved by a play test or given up with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import current_act, lock_row, service
from core.day_bounds import PROMISED
from core.events import already
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument, PlayTest, Whereabouts
from inventory.services.care import record_play_test
from inventory.services.event_log import log_event
from inventory.services.inspecting import add_bench_finding
from inventory.services.state import lock_instrument, move_instrument
from repairs.exceptions import AtShopError, JobClosedError, JobOpenError, NotProvedError
from repairs.models import Bench, Job, StepClock
from repairs.selectors.planning import PROVING, plan_for_job
from repairs.selectors.worth import spent_on
from repairs.services.refusals import check_allowed, check_in_use


def lock_open_job(job: Job) -> Job:
    """The job as it is now, its instrument locked; refuses a closed one, or one whose instrument is at a shop."""
    instrument = lock_instrument(job.instrument_id)
    fresh = lock_row(job, "bench")
    fresh.instrument = instrument
    if fresh.closed_at is not None:
        words = gettext("Somebody else has closed this job. What you entered was not added; nothing is lost.")
        raise JobClosedError(already(words, subject=fresh, acts=["job_closed"]))
    if instrument.whereabouts == Whereabouts.AT_SHOP:
        raise AtShopError(gettext("It is at a shop. Mark it as back on its order first. Nothing was changed."))
    return fresh


@service(once="nonce")
def open_job(
    *,
    instrument: Instrument,
    bench: Bench,
    actor: User,
    at: datetime,
    because: str = "",
    due_on: date | None = None,
    nonce: UUID | None = None,
) -> Job:
    """Take it from the store to the bench, as was decided if it was.

    Refuses if it is elsewhere, kept for its parts or retired, if a job is open, and what was not approved.
    """
    PROMISED.check(due_on, today=timezone.localdate(at))
    row = lock_instrument(instrument)
    check_in_use(row)
    if there := Job.objects.open().filter(instrument=row).first():
        words = gettext("%(number)s already has an open job.") % {"number": row.asset_number}
        raise JobOpenError(already(words, subject=there, acts=["job_opened"]))
    if _lock_bench(bench).retired_at is not None:
        raise RefusedError(gettext("%(bench)s is retired. Choose another bench.") % {"bench": bench})
    job = Job.objects.create(
        instrument=row, bench=bench, opened_at=at, opened_by=actor, because=because[:200], due_on=due_on,
        decision=check_allowed(row),
    )  # fmt: skip
    _carry(job, Whereabouts.IN_STORE, Whereabouts.ON_BENCH, actor=actor, at=at)
    log_event(instrument=row, act="job_opened", subject=job, after={"bench": bench.code, "due_on": due_on})
    return job


def _lock_bench(bench: Bench) -> Bench:
    """Return the bench as it is now, locked once in an act that opens many jobs."""
    rows, key = current_act().rows, (Bench, bench.pk)
    if key not in rows:
        rows[key] = lock_row(bench)
    return cast("Bench", rows[key])


def _carry(job: Job, expected: Whereabouts, to: Whereabouts, *, actor: User, at: datetime) -> None:
    reference = f"job:{job.pk}"
    move_instrument(instrument=job.instrument, expected=expected, to=to, actor=actor, at=at, reference=reference)


@service(once="nonce")
def prove_job(
    *,
    job: Job,
    result: str,
    actor: User,
    at: datetime,
    leaves_rest: bool = False,
    found_again: Sequence[dict[str, str]] = (),
    nonce: UUID | None = None,
    **test: Any,
) -> Job:
    """Play-test it; 'pass' and 'limits' close the job and put the instrument in storage, 'fail' keeps the job open.

    ``found_again`` are re-checks that were not good ({"part", "fault", "severity", "place"}); they become findings and
    keep the job open. ``leaves_rest`` closes with steps undone, which only 'limits' allows. ``test`` goes to
    record_play_test. Raises NotProvedError naming the steps that are left.
    """
    fresh = lock_open_job(job)
    if found_again:
        _back_into_the_plan(fresh, found_again, actor=actor, at=at)
        return fresh
    plan = plan_for_job(fresh)
    rest = [step for step in plan.steps if step.method != PROVING]
    if rest and result != PlayTest.Result.FAIL and not (leaves_rest and result == PlayTest.Result.LIMITS):
        names = "; ".join(step.say for step in rest[:4])
        words = gettext("Steps are left: %(steps)s. Do them, or close with limits and say what is left.")
        raise NotProvedError(words % {"steps": names})
    played = record_play_test(instrument=fresh.instrument, result=result, actor=actor, at=at, **test)
    if result == PlayTest.Result.FAIL:
        return fresh
    return _close(fresh, actor=actor, at=at, play_test=played)


def _back_into_the_plan(job: Job, found_again: Sequence[dict[str, str]], *, actor: User, at: datetime) -> None:
    for again in found_again:
        add_bench_finding(instrument=job.instrument, actor=actor, at=at, **again)
    log_event(instrument=job.instrument, act="recheck_failed", subject=job, after={"count": len(found_again)})


@service
def give_up_job(*, job: Job, because: str, actor: User, at: datetime) -> Job:
    """End a job without a play test (parts instrument, waits for money); the reason is kept and the verdict stays."""
    if not because.strip():
        raise RefusedError(gettext("Say why the job ends here."))
    return _close(lock_open_job(job), actor=actor, at=at, because=because.strip()[:200])


def _close(job: Job, *, actor: User, at: datetime, play_test: PlayTest | None = None, because: str = "") -> Job:
    closed = Job.objects.filter(pk=job.pk, closed_at=None).update(
        closed_at=at, closed_by=actor, play_test=play_test, ended_because=because
    )
    if not closed:
        raise JobClosedError(already(gettext("Somebody else has closed this job."), subject=job, acts=["job_closed"]))
    StepClock.objects.filter(job=job).delete()
    _carry(job, Whereabouts.ON_BENCH, Whereabouts.IN_STORE, actor=actor, at=at)
    closed_job = Job.objects.get(pk=job.pk)
    spent = spent_on(closed_job)
    after = {
        "play_test": play_test.pk if play_test else None,
        "minutes": round(spent.minutes),
        "amount": str(spent.amount),
    }
    log_event(instrument=job.instrument, act="job_closed", subject=job, after=after)
    return closed_job
