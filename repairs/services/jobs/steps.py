"""The steps of a job: what happened at each, and what that changes in the plan."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID, uuid4, uuid5

from django.utils.translation import gettext

from core.acts import service
from core.events import already
from core.models import User
from core.money import cents
from core.photos import CleanPhoto
from inventory.catalog.load import catalog
from inventory.catalog.load.language import stored_language
from inventory.catalog.schema import Hazard
from inventory.models import Closed, Photo
from inventory.rules.facts import Owed
from inventory.services.care import keep_photo, record_cleaning
from inventory.services.event_log import log_event
from inventory.services.inspecting import add_bench_finding, close_findings
from repairs.exceptions import CautionsFirstError, StepRefusedError
from repairs.models import OUTCOME_LABELS, Attempt, CautionRead, Job, StepClock, StockItem
from repairs.rules.facts import Outcome, cleaning_of, hygiene_left
from repairs.rules.plan import SHOP_TRIP, Plan, PlannedStep, Savings, Soaked, alike, may_do, savings, soaked_in
from repairs.selectors.care import care_methods
from repairs.selectors.planning import PROVING, job_state, plan_for_job, step_of
from repairs.selectors.shops import has_come_back
from repairs.services.care import keep_care_dates
from repairs.services.jobs.lifecycle import lock_open_job
from repairs.services.jobs.minutes import attended_minutes, planned_minutes
from repairs.services.refusals import check_step
from repairs.services.stock import use_free_part, use_stock_for

Way = TypeVar("Way", PlannedStep, Soaked)
OF_ANY_STEP = {Outcome.SKIPPED, Outcome.STOPPED, Outcome.DAMAGED}
OF_THE_BATH = {Outcome.FREED, Outcome.STILL_STUCK}
OF_A_RUNG = OF_ANY_STEP | OF_THE_BATH
OF_A_METHOD = OF_ANY_STEP | {Outcome.DONE, Outcome.NOT_RIGHT}
FIXED = {Outcome.DONE, Outcome.FREED}
NOT_BEGUN = {Outcome.SKIPPED, Outcome.STOPPED}
ENDS_TOGETHER = OF_THE_BATH | {Outcome.DONE}  # of a step that may be recorded with others


@dataclass(frozen=True, slots=True)
class Damage:
    """What got damaged at a step, as it is entered: a fault at a part, and how bad."""

    part: str
    fault: str
    severity: str
    place: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class FreeUse:
    """So many of a part that is outside the catalog, from the bench's drawer."""

    item: StockItem
    quantity: Decimal

    @property
    def row(self) -> dict[str, Any]:
        """As it stands among what the attempt used."""
        amount = cents(self.quantity * (self.item.each_amount or Decimal(0)))
        return {"code": "", "item": self.item.pk, "quantity": str(self.quantity), "amount": str(amount)}


@dataclass(frozen=True, slots=True)
class StepResult:
    """What an outcome changed. ``was_known`` says that the same form had been posted before."""

    attempt: Attempt
    plan: Plan
    savings: Savings | None
    was_known: bool = False


def step_to_do(*, job: Job, plan: Plan, key: str, actor: User, outcome: str = "") -> PlannedStep:
    """The step, if this person may do it now, or end it so; the refusal says what comes first."""
    step = _step_now(job=job, plan=plan, key=key)
    check_step(step, job=job, outcome=outcome)
    if unread := _unread(step, job=job, actor=actor):
        names = ", ".join(one.name for one in unread)
        raise CautionsFirstError(gettext("Read the cautions first: %(names)s.") % {"names": names})
    return step


def _step_now(*, job: Job, plan: Plan, key: str) -> PlannedStep:
    refusal = may_do(plan, key)
    if refusal is not None:
        raise StepRefusedError(gettext("Not now: %(reason)s.") % {"reason": refusal.reason})
    step = step_of(job, plan, key)
    if step is None:
        words = gettext("This step is no longer in the plan. Somebody may have done it already.")
        raise StepRefusedError(already(words, subject=job, acts=["step_done"], step=key))
    return step


def _unread(step: PlannedStep, *, job: Job, actor: User) -> list[Hazard]:
    """The hazards of a step that this person has not acknowledged in this job as they are worded now."""
    if not step.acknowledgements:
        return []
    read = CautionRead.objects.filter(job=job, actor=actor).texts()
    return [one for one in step.acknowledgements if (one.code, one.version) not in read]


@service
def acknowledge_cautions(
    *, job: Job, step_key: str, actor: User, at: datetime, shown: Collection[str] | None = None
) -> None:
    """Note which cautions of a step were shown and read, each by itself; one read in this job is not noted again.

    ``shown`` has the keys of those on the page (None: all of now). Raises CautionsFirstError if one was not there.
    """
    fresh = lock_open_job(job)
    unread = _unread(_step_now(job=fresh, plan=plan_for_job(fresh), key=step_key), job=fresh, actor=actor)
    if shown is not None and not {one.key for one in unread}.issubset(shown):
        raise CautionsFirstError(gettext("The cautions of this step have changed. Read them again."))
    CautionRead.objects.bulk_create(
        CautionRead(job=fresh, hazard=one.code, version=one.version, text=one.caution, at=at, actor=actor)
        for one in unread
    )
    if unread:
        noted = [{"hazard": one.code, "name": one.name, "version": one.version} for one in unread]
        log_event(
            instrument=fresh.instrument,
            act="cautions_acknowledged",
            subject=fresh,
            after={"step": step_key, "shown": noted},
        )


def _kept_before(_row: None, *, job: Job, nonce: UUID, **_posted: Any) -> StepResult:
    """What the same form gave when it was posted before, with the plan as it is now."""
    return StepResult(Attempt.objects.get(nonce=nonce), plan_for_job(job), None, was_known=True)


@service(once="nonce", again=_kept_before)
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
    picture: CleanPhoto | None = None,
    damage: Damage | None = None,
    free_use: FreeUse | None = None,
    soaked: Mapping[str, str] | None = None,
    product: str = "",
    wet_minutes: int = 0,
    tapped_at: datetime | None = None,
) -> StepResult:
    """Keep what happened at a step, close what it fixed, and plan again; ``damage`` joins the plan as a finding.

    ``parts_used`` are of the catalog (None: what is usual), ``free_use`` is outside it. Refuses a closed job, a step
    that may not be done now, an outcome that does not fit, and hot work before the cautions. ``soaked`` says of stuck
    parts that sat in the bath or soaked in the same way, and of parts with the same work done, by the key of their own
    step, how they came out; a bath or such work must be done to have any. ``product`` and ``wet_minutes`` say with what
    a cleaning between players was done. ``tapped_at`` is when it ended, where that was without a signal: its clock
    stops there.
    """
    fresh = lock_open_job(job)
    before = plan_for_job(fresh)
    step = step_to_do(job=fresh, plan=before, key=step_key, actor=actor, outcome=outcome)
    _refuse_what_does_not_fit(step, outcome, job=fresh)
    parts = _usual_parts(step, outcome) if parts_used is None else list(parts_used)
    if free_use is not None:
        parts.append(free_use.row)
    photo = _kept(picture, job=fresh, step=step, actor=actor, at=at)
    attempt = _timed_attempt(
        step, job=fresh, outcome=outcome, nonce=nonce, parts=parts, actor=actor, at=at, until=tapped_at or at,
        minutes=minutes, note=note, photo=photo,
    )  # fmt: skip
    if outcome in FIXED and step.method in care_methods():
        keep_care_dates([fresh.instrument_id])
    _log_outcome(attempt)
    done = [attempt]
    if soaked and (stuck := soaked_in(before, step.method)):
        _keep_soaked(soaked, ways=stuck if outcome == Outcome.DONE else (), bath=attempt)
    elif soaked:
        done += _keep_alike(soaked, ways=alike(before, step.key) if outcome in ENDS_TOGETHER else (), first=attempt)
    if outcome in FIXED:
        _keep_cleaning(fresh, step, actor=actor, at=at, product=product, wet_minutes=wet_minutes)
    if damage is not None:
        add_bench_finding(instrument=fresh.instrument, actor=actor, at=at, **asdict(damage))
    # The drawers last: whoever works at the same bench waits for them, and nobody may wait there for an instrument.
    for one in done:
        use_stock_for(attempt=one, actor=actor, at=at)
    if free_use is not None:
        use_free_part(item=free_use.item, attempt=attempt, quantity=free_use.quantity, actor=actor, at=at)
    plan = plan_for_job(fresh)
    return StepResult(attempt, plan, savings(before, plan) if outcome == Outcome.FREED else None)


def _timed_attempt(
    step: PlannedStep,
    *,
    job: Job,
    outcome: str,
    parts: list[dict[str, Any]],
    at: datetime,
    until: datetime | None = None,
    minutes: Decimal | None = None,
    **kept: Any,
) -> Attempt:
    """Keep an attempt with the minutes of its clock, which ran ``until`` then, else as planned; its clock is over."""
    clock = StepClock.objects.filter(job=job, step_key=step.key).first()
    timed = attended_minutes(clock=clock, step=step, at=until or at) if minutes is None else minutes
    _clear_clock(job, step)
    return Attempt.objects.create(
        job=job,
        outcome=outcome,
        started_at=clock.started_at if clock else None,
        ended_at=at,
        minutes=timed,
        estimated_minutes=planned_minutes(step=step, outcome=outcome) if timed is None else None,
        parts_used=parts,
        parts_amount=sum((Decimal(str(row.get("amount", 0))) for row in parts), Decimal(0)),
        **_columns_of(step),
        **kept,
    )


def _keep_cleaning(job: Job, step: PlannedStep, **said: Any) -> None:
    """Record the owed cleaning that a step was: what touches a mouth once the last of it is done.

    ``said`` is who cleaned, when, with what and how long it stayed wet; a wash that is not the last is kept with its
    product.
    """
    instrument, methods = job.instrument, catalog().methods
    cleaned = cleaning_of(methods[step.method], kind=instrument.kind)
    if cleaned is Owed.HYGIENE:
        done = Attempt.objects.filter(job=job, outcome__in=FIXED).values_list("method", flat=True)
        parts = instrument.kind.parts_for(instrument.options)
        if hygiene_left(parts, methods=methods.values(), done=set(done)):
            record_cleaning(instrument=instrument, done=(), **said)
            return
    if cleaned is not None:
        record_cleaning(instrument=instrument, done=[cleaned], **said)


def _log_outcome(attempt: Attempt, *, says_part: bool = False) -> None:
    """Log an outcome, and close the findings that it fixed."""
    with stored_language():
        name = catalog().tried_name(attempt.method, attempt.rung)
        said = f"{name}: {str(OUTCOME_LABELS[Outcome(attempt.outcome)]).lower()}"
        if says_part:
            said = f"{attempt.job.instrument.kind.part(attempt.part).at(attempt.place)}, {said}"
    same = {"step": attempt.step_key, "method": attempt.method, "outcome": str(attempt.outcome), "say": said}
    after = same | {"attempt": attempt.pk}
    log_event(instrument=attempt.job.instrument, act="step_done", subject=attempt.job, after=after)
    if attempt.outcome in FIXED and attempt.findings:
        close_findings(
            instrument=attempt.job.instrument, finding_ids=attempt.findings, because=Closed.REPAIRED,
            reference=f"job:{attempt.job_id}", actor=attempt.actor, at=attempt.ended_at,
        )  # fmt: skip


def _keep_soaked(soaked: Mapping[str, str], *, ways: Sequence[Soaked], bath: Attempt) -> None:
    """Keep for each stuck part how it came out of the bath, as a try of its own; the minutes are those of the bath."""
    for way, outcome in _ways_said(soaked, ways):
        attempt = Attempt.objects.create(
            job=bath.job, nonce=uuid5(bath.nonce, way.key), outcome=outcome, ended_at=bath.ended_at, actor=bath.actor,
            **_columns_of(way),
        )  # fmt: skip
        _clear_clock(bath.job, way)
        _log_outcome(attempt, says_part=True)


def _keep_alike(soaked: Mapping[str, str], *, ways: Sequence[PlannedStep], first: Attempt) -> list[Attempt]:
    """Keep for each part at which the same was done how it came out: a try like the first, with minutes and parts.

    What soaked shared its minutes when the wait began; other work shares those of the first.
    """
    done, share = [], None
    if not first.rung and first.minutes is not None:
        share = (first.minutes / (len(soaked) + 1)).quantize(Decimal("0.1"))
        first.minutes -= share * len(soaked)
        first.save(update_fields=["minutes"])
    for way, outcome in _ways_said(soaked, ways):
        attempt = _timed_attempt(
            way, job=first.job, outcome=outcome, nonce=uuid5(first.nonce, way.key), parts=_usual_parts(way, outcome),
            actor=first.actor, at=first.ended_at, minutes=share,
        )  # fmt: skip
        _log_outcome(attempt, says_part=True)
        done.append(attempt)
    return done


def _ways_said(soaked: Mapping[str, str], ways: Sequence[Way]) -> list[tuple[Way, str]]:
    known = {way.key: way for way in ways}
    ends = OF_THE_BATH if all(way.rung for way in ways) else {Outcome.DONE}
    if not soaked.keys() <= known.keys() or not ends.issuperset(soaked.values()):
        raise StepRefusedError(gettext("A part did not go along with this one, or is done already. Look again."))
    return [(known[key], outcome) for key, outcome in soaked.items()]


def _refuse_what_does_not_fit(step: PlannedStep, outcome: str, *, job: Job) -> None:
    if step.method == PROVING:
        raise StepRefusedError(gettext("The play test closes the job. Do it on its own page."))
    if step.method == SHOP_TRIP and outcome in OF_A_METHOD - OF_ANY_STEP and not has_come_back(job):
        words = gettext("Write the shop's order: it says when it went, what came back right, and what it cost.")
        raise StepRefusedError(words)
    if outcome not in (OF_A_RUNG if step.rung else OF_A_METHOD):
        raise StepRefusedError(gettext("This step cannot end that way: %(outcome)s.") % {"outcome": outcome})


def _kept(picture: CleanPhoto | None, *, job: Job, step: PlannedStep, actor: User, at: datetime) -> Photo | None:
    if picture is None:
        return None
    with stored_language():
        caption = catalog().tried_name(step.method, step.rung)[:200]
    return keep_photo(instrument=job.instrument, photo=picture, part=step.part, caption=caption, actor=actor, at=at)


def _usual_parts(step: PlannedStep, outcome: str) -> list[dict[str, Any]]:
    if outcome in NOT_BEGUN:
        return []
    return [
        {"code": need.code, "quantity": str(need.quantity), "amount": str(cents(need.middle))} for need in step.parts
    ]


def _columns_of(step: PlannedStep | Soaked) -> dict[str, Any]:
    """The step as the attempt keeps it: a plan may change, what was done does not."""
    findings = [int(fact.key) for fact in step.findings if fact.key.isdigit()]
    same = {name: getattr(step, name) for name in ("method", "rung", "part", "place")}
    return {"step_key": step.key, "findings": findings, **same}


def _clear_clock(job: Job, step: PlannedStep | Soaked) -> None:
    """Stop its clock and its count of tries; a rung that was asked for again counts as tried again."""
    StepClock.objects.filter(job=job, step_key=step.key).delete()
    if step.key in job.retry_keys:
        _set_retry_keys(job, [key for key in job.retry_keys if key != step.key])
    if step.key in job.step_tries:
        set_step_tries(job=job, tries={key: count for key, count in job.step_tries.items() if key != step.key})


def _set_retry_keys(job: Job, keys: list[str]) -> None:
    job.retry_keys = keys
    job.save(update_fields=["retry_keys"])


def set_step_tries(*, job: Job, tries: dict[str, int]) -> None:
    job.step_tries = tries
    job.save(update_fields=["step_tries"])


@service
def ask_again(*, job: Job, step_key: str, actor: User, at: datetime) -> None:
    """Offer a rung once more that was tried already."""
    fresh = lock_open_job(job)
    if step_key not in fresh.retry_keys:
        _set_retry_keys(fresh, [*fresh.retry_keys, step_key])
        log_event(instrument=fresh.instrument, act="asked_again", subject=fresh, after={"step": step_key})


@service
def came_free_after_all(*, job: Job, step_key: str, actor: User, at: datetime) -> None:
    """Record that a way given up as failed freed the part after all. It is no new try: no minutes, no parts."""
    fresh = lock_open_job(job)
    failed = job_state(fresh).given_up.get(step_key)
    if failed is None:
        raise StepRefusedError(gettext("This way was not given up, or the part is free already."))
    same = {name: getattr(failed, name) for name in ("step_key", "method", "rung", "part", "place", "findings")}
    new = {"outcome": Outcome.FREED, "is_after_all": True, "minutes": 0, "ended_at": at, "actor": actor}
    attempt = Attempt.objects.create(job=fresh, nonce=uuid4(), **same, **new)
    spot = f"{step_key.rpartition(':')[0]}:"  # whatever was going on at the part is over
    StepClock.objects.filter(job=fresh, step_key__startswith=spot).delete()
    _set_retry_keys(fresh, [key for key in fresh.retry_keys if not key.startswith(spot)])
    _log_outcome(attempt)


def _plan_as_it_is(_row: None, *, job: Job, **_posted: Any) -> Plan:
    return plan_for_job(job)


@service(once="nonce", again=_plan_as_it_is)
def add_finding_to_job(
    *, job: Job, actor: User, at: datetime, picture: CleanPhoto | None = None, nonce: UUID | None = None, **finding: str
) -> Plan:
    """Something new seen on the bench joins the plan; ``finding`` is what ``Damage`` holds."""
    fresh, seen = lock_open_job(job), Damage(**finding)
    if picture is not None:
        keep_photo(instrument=fresh.instrument, photo=picture, part=seen.part, actor=actor, at=at)
    add_bench_finding(instrument=fresh.instrument, actor=actor, at=at, **asdict(seen))
    return plan_for_job(fresh)
