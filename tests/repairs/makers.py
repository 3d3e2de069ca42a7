"""Jobs and benches for tests, through the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from core.models import Event, User
from inventory.catalog.load import catalog
from inventory.models import Custody, Finding, Inspection, Instrument, Photo, PlayTest, Role, School
from repairs.models import Attempt, Bench, CautionRead, Job, StepClock
from repairs.profiles import bench_profile
from repairs.rules.plan import SHOP_TRIP, PlannedStep
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import StepResult, acknowledge_cautions, do_step, open_job
from tests.factories import NOW, make_bench, make_inspection, make_instrument, make_user, new_nonce

STUCK = ("third_valve_slide", "slide_seized", "light")
LEAKING_CORK = ("tuning_slide_water_key", "water_key_leak", "moderate")
LATER = NOW + timedelta(hours=3)  # than every act of the makers


def make_school_bench(school: School, *, profile: str = "school", **overrides: Any) -> Bench:
    """A bench with the tools and training of a profile."""
    fact = bench_profile(profile, catalog=catalog())
    fields: dict[str, Any] = {
        "tools": sorted(fact.tools),
        "methods": sorted(fact.methods),
        "has_torch": fact.has_torch,
        "has_chemicals": fact.has_chemicals,
        "rate_amount": fact.rate_amount,
    }
    return make_bench(school=school, **(fields | overrides))


def make_job(
    *,
    school: School,
    kind_code: str = "trumpet",
    findings: list[tuple[str, ...]] | None = None,
    profile: str = "school",
    actor: User | None = None,
    **overrides: Any,
) -> Job:
    """An open job on an inspected instrument; by default its third valve slide is stuck."""
    actor = actor or make_user(Role.TECH, school=school)
    instrument = make_instrument(school=school, kind_code=kind_code)
    make_inspection(instrument=instrument, findings=[STUCK] if findings is None else findings, actor=actor)
    bench = overrides.pop("bench", None) or make_school_bench(school, profile=profile)
    fields: dict[str, Any] = {"at": NOW + timedelta(hours=1), "actor": actor} | overrides
    return open_job(instrument=Instrument.objects.get(pk=instrument.pk), bench=bench, **fields)


def fresh(job: Job) -> Job:
    return Job.objects.select_related("instrument__school", "bench").get(pk=job.pk)


def next_step(job: Job) -> PlannedStep | None:
    return plan_for_job(fresh(job)).next_step


def read_cautions(job: Job, *, actor: User, at: Any = LATER) -> None:
    """Read what has to be read before each step that may be done now."""
    for step in plan_for_job(fresh(job)).steps:
        if step.acknowledgements and not step.waits_on:
            acknowledge_cautions(job=job, step_key=step.key, actor=actor, at=at)


def do_next(job: Job, outcome: str = "", *, at: Any = None, **extra: Any) -> StepResult:
    """Do the step that comes next; a rung is freed, a method done and a trip left out unless said otherwise."""
    step = next_step(job)
    assert step is not None
    actor = job.opened_by
    acknowledge_cautions(job=job, step_key=step.key, actor=actor, at=at or NOW + timedelta(hours=2))
    return do_step(
        job=job,
        step_key=step.key,
        outcome=outcome or ("freed" if step.rung else "skipped" if step.method == SHOP_TRIP else "done"),
        actor=actor,
        at=at or NOW + timedelta(hours=2, minutes=job.attempts.count()),
        nonce=new_nonce(),
        **extra,
    )


def work_to_the_proof(job: Job) -> Job:
    """Do every step until only the play test is left."""
    for _ in range(60):
        step = next_step(job)
        if step is None or step.method == "play_test":
            break
        do_next(job)
    return fresh(job)


def state_of_rows() -> tuple[Any, ...]:
    """What must be the same before and after a refusal: nothing was written."""
    return (
        Job.objects.count(),
        sorted(Job.objects.values_list("pk", "closed_at", "ended_because")),
        sorted(CautionRead.objects.values_list("job", "hazard", "version", "actor")),
        [list(keys) for keys in Job.objects.order_by("pk").values_list("retry_keys", flat=True)],
        Attempt.objects.count(),
        sorted(StepClock.objects.values_list("pk", "step_key", "started_at", "waiting_since")),
        sorted(Finding.objects.values_list("pk", "closed_at")),
        Inspection.objects.count(),
        PlayTest.objects.count(),
        Photo.objects.count(),
        Custody.objects.count(),
        sorted(Bench.objects.values_list("pk", "name", "has_torch", "rate_amount")),
        Event.objects.count(),
        sorted(Instrument.objects.values_list("pk", "whereabouts", "readiness", "verdict")),
    )


def refused(error: type[Exception], act: Callable[..., object], **arguments: Any) -> str:
    """The act raises the error and writes nothing; returns its sentence."""
    before = state_of_rows()
    with pytest.raises(error) as caught:
        act(**arguments)
    assert state_of_rows() == before
    return str(caught.value)
