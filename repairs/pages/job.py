"""What the tech's page shows of a job: one step large, the rest as lines, all in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from operator import itemgetter
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.money import dollars
from inventory.catalog.load import catalog
from inventory.catalog.schema import Cleaner, Hazard, Kind, PartNeed
from inventory.rules.standing import Standing
from repairs.models import OUTCOME_LABELS, Attempt, Job, StepClock
from repairs.pages.stock import out_of_stock
from repairs.rules.facts import TRIES_A_WAY, Outcome, cleaners_for
from repairs.rules.plan import (
    SHOP_TRIP,
    Plan,
    PlannedLadder,
    PlannedStep,
    RungState,
    Soaked,
    alike,
    by_reason,
    is_left_to_a_shop,
    may_do,
    soaked_in,
)
from repairs.rules.words import clock_time, duration, finding_words, lower_first, place_words, waiting
from repairs.selectors.demand import waiting_day_amount
from repairs.selectors.planning import PROVING, JobState, jobs_with_next_step, step_in
from repairs.selectors.shops import has_come_back

SHOWN_OTHERS = 3  # instruments to go on with while this one waits
SHOWN_WATCH = 4  # what fits beside a pair of dirty hands; the rest on demand
NO_LONGER = _("on a part this instrument no longer has")
OFFERED_AGAIN = {Outcome.STILL_STUCK, Outcome.NOT_RIGHT, Outcome.SKIPPED, Outcome.STOPPED}


@dataclass(frozen=True, slots=True)
class PartUse:
    """A part or consumable that a step usually takes."""

    code: str
    name: str
    unit: str
    quantity: Decimal
    amount: Decimal  # dollars for the quantity, middle price


@dataclass(frozen=True, slots=True)
class StepCard:
    """The step shown large."""

    step: PlannedStep
    where: str
    faults: str
    your_time: str
    wait: str
    odds_head: str
    odds_note: str
    watch: tuple[str, ...]
    watch_more: tuple[str, ...]
    tools: tuple[str, ...]
    parts: tuple[PartUse, ...]
    cautions: tuple[Hazard, ...]
    unread: tuple[Hazard, ...]  # what the reader has to acknowledge before the step
    read: tuple[tuple[str, datetime, str], ...]  # (hazard, when, who) of what was read for such a step in this job
    refusal: str  # why it may not be done now; ""
    first: tuple[tuple[str, list[tuple[str, str]]], ...]  # (why, [(key, name with its part)]) of what comes first
    freed_words: str
    stuck_words: str
    never: tuple[str, ...]
    keep_dry: str
    cleaners: tuple[Cleaner, ...]  # what a cleaning between players may be done with; () for any other step
    soaked: tuple[Soaked | PlannedStep, ...]  # the way of each stuck part in the bath, or soaking in the same way
    same_work: tuple[PlannedStep, ...]  # the same at other parts, to be recorded with it
    together: tuple[str, ...]  # where else the same can be done now, to soak with it
    free_note: str  # what makes this way cost nothing extra; ""
    is_proof: bool
    is_trip: bool  # to a shop: its order has the rest
    rungs: tuple[dict[str, Any], ...]  # the other ways on its ladder


@dataclass(frozen=True, slots=True)
class AwayLine:
    """A finding that this bench does not fix: where it is, why, and what a shop would charge."""

    finding: str
    say: str
    why: str
    fee_low: Decimal | None = None
    fee_high: Decimal | None = None
    parts: str = ""  # that the shop puts in, their price within the fee
    is_shared: bool = False  # one job of the shop with the one before


def job_page(state: JobState, *, user: Any, now: datetime, step_key: str = "") -> dict[str, Any]:
    """Gather the page. ``step_key`` asks for another step than the one at hand."""
    plan = state.plan
    step = _shown(state, step_key, now=now)
    shown = step.key if step else ""
    lines = [_step_line(state, one, shown=shown) | {"number": number} for number, one in enumerate(plan.steps)]
    each = [_wait(state, clock, now=now) for clock in state.resting]
    waits = [one | {"others": others} for one, *others in _runs(each, ("say", "until"))]
    resting = {wait["step_key"] for wait in each}
    return {
        "card": step_card(state, step, user=user) if step else None,
        "number": min(len(plan.done) + 1, state.steps_in_all) or 1,
        "total": max(state.steps_in_all, 1),
        "done": list(_done_lines(state)),
        "earlier": list(_earlier_lines(state)),
        "ready": list(_grouped(line for line in lines if not line["why"] and line["key"] not in {*resting, shown})),
        "later": list(_grouped(line for line in lines if line["why"])),
        "sent_out": sent_lines(plan, state.standing),
        "left": left_lines(plan, state.standing),
        "at_once": plan.at_once,
        "waits": waits,
        "rests": shown in resting,
        "rest_is_over": any(wait["step_key"] == shown and wait["is_over"] for wait in each),
        "tries": state.job.step_tries.get(shown, 0),
        "tries_left": TRIES_A_WAY - 1 - state.job.step_tries.get(shown, 0),
        "tries_in_all": TRIES_A_WAY,
        "started_at": next(
            (one.started_at for one in state.clocks if one.step_key == shown and not one.waiting_since), None
        ),
        "meanwhile": _meanwhile(state.job, user) if waits or (step is not None and step.wait_h > 0) else [],
        "lacks": out_of_stock([state]).get(state.job.pk, ""),
        "time_left": duration(plan.taken.attended_minutes.p50),
        "time_left_p80": duration(plan.taken.attended_minutes.p80),
        "cost_left": round(plan.taken.cost.mean),
        "is_only_proof_left": not state.left_to_do,
        "has_been_away": step is not None and step.method == SHOP_TRIP and has_come_back(state.job),
        "is_for_shop": is_left_to_a_shop(plan),
        "waiting_words": _waiting_words(state),
    }


def _waiting_words(state: JobState) -> str:
    """Say what a day of waiting counts for, while a student waits and ways to free it are left; or ""."""
    if not state.is_waited_for or not any(ladder.ahead for ladder in state.plan.ladders):
        return ""
    words = gettext(
        "A student is waiting for it, so each day of waiting counts as %(amount)s in favor of quicker tries that are no rougher."
    )
    return words % {"amount": dollars(waiting_day_amount(is_waited_for=True))}


def _shown(state: JobState, key: str, *, now: datetime) -> PlannedStep | None:
    """The step asked for, else the one whose clock runs, else one that has rested, else the first to do now."""
    over = [one.step_key for one in state.resting if one.waits_until and one.waits_until <= now]
    candidates = (step_in(state, one) for one in (key, *(() if state.running else over)) if one)
    return next((step for step in candidates if step), None) or state.at_hand


def step_card(state: JobState, step: PlannedStep, *, user: Any) -> StepCard:
    trade, kind, plan = catalog(), state.kind, state.plan
    refusal = may_do(plan, step.key)
    ladder = _ladder(state, step)
    head, note = _odds(step)
    rows = list(state.job.cautions_read.select_related("actor")) if step.acknowledgements else []
    timed, resting = ({one.step_key for one in clocks} for clocks in (state.clocks, state.resting))
    same = alike(plan, step.key)
    mine = {(row.hazard, row.version) for row in rows if row.actor_id == user.pk}
    names = {one.code: one.name for one in step.acknowledgements}
    return StepCard(
        step=step,
        where=place_words(kind, part=step.part, place=step.place),
        faults=", ".join(dict.fromkeys(trade.fault_name(one.fault) for one in step.findings)),
        your_time=duration(step.minutes.likely),
        wait=waiting(float(step.wait_h)),
        odds_head=head,
        odds_note=note,
        watch=step.watch[:SHOWN_WATCH],
        watch_more=step.watch[SHOWN_WATCH:],
        tools=tuple(trade.tools[code].name for code in step.tools if code in trade.tools),
        parts=part_uses(step.parts),
        cautions=step.cautions,
        unread=tuple(one for one in step.acknowledgements if (one.code, one.version) not in mine),
        read=tuple((names[row.hazard], row.at, row.actor.name) for row in rows if row.hazard in names),
        refusal=refusal.reason if refusal else "",
        first=tuple(_first_lines(step)) if refusal else (),
        freed_words=ladder.entry.freed_words if ladder else gettext("Done"),
        stuck_words=ladder.entry.stuck_words if ladder else gettext("Done, but not right yet"),
        never=ladder.entry.never if ladder else (),
        keep_dry=", ".join(kind.part(code).name for code in step.keep_dry),
        cleaners=cleaners_for(step.method, kind=kind, catalog=trade),
        soaked=soaked_in(plan, step.key) or tuple(one for one in same if one.rung and {one.key, step.key} <= resting),
        same_work=tuple(one for one in same if not one.rung and one.key not in timed),
        together=tuple(
            place_words(kind, part=one.part, place=one.place)
            for one in same
            if one.rung and one.key not in timed and step.key not in resting
        ),
        free_note=next((one.why for one in ladder.rungs if one.step_key == step.key and one.is_free), "")
        if ladder
        else "",
        is_proof=step.method == PROVING,
        is_trip=step.method == SHOP_TRIP,
        rungs=tuple(_rung_lines(state, ladder)) if ladder and plan.step(step.key) else (),
    )


def usual_parts(step_key: str, *, kind: Kind) -> tuple[PartUse, ...]:
    """Return what the method of a step takes at most, from its key alone: no plan is needed to price what was used."""
    method = catalog().sized(kind.size).methods.get(step_key.partition(":")[0])
    return part_uses(method.parts) if method else ()


def part_uses(needs: Iterable[PartNeed]) -> tuple[PartUse, ...]:
    known = catalog().consumables
    return tuple(
        PartUse(
            code=need.code,
            name=known[need.code].name if need.code in known else need.code.replace("_", " "),
            unit=known[need.code].unit if need.code in known else "",
            quantity=need.quantity,
            amount=need.middle.quantize(Decimal("0.01")),
        )
        for need in needs
    )


def _ladder(state: JobState, step: PlannedStep) -> PlannedLadder | None:
    return next((one for one in state.plan.ladders if one.key == step.ladder_key), None) if step.ladder_key else None


def _odds(step: PlannedStep) -> tuple[str, str]:
    """Return the large figure and the words below it; a method has no odds."""
    if step.odds is None:
        return "", ""
    guess = f"{step.odds.default_p * 100:.0f}%"
    if not step.odds.tries:
        return guess, gettext("freed, by the starting guess")
    count = gettext("%(freed)d of %(tries)d") % {"freed": step.odds.freed, "tries": step.odds.tries}
    return count, gettext("freed here; starting guess %(guess)s") % {"guess": guess}


def _step_line(state: JobState, step: PlannedStep, *, shown: str) -> dict[str, Any]:
    ladder = _ladder(state, step)
    rungs = list(_rung_lines(state, ladder)) if ladder else []
    return {
        "key": step.key,
        "say": step.say,
        "where": place_words(state.kind, part=step.part, place=step.place) if step.part else "",
        "minutes": step.minutes.likely,
        "is_shown": step.key == shown,
        "why": "; ".join(_whys(step)),
        "rungs": rungs,
        "ways": [(rung["say"], rung["note"]) for rung in rungs],
    }


def _runs(lines: Iterable[dict[str, Any]], same: Sequence[str]) -> Iterator[list[dict[str, Any]]]:
    """Yield the lines next to each other that agree in these."""
    return (list(some) for _, some in groupby(lines, key=itemgetter(*same)))


def _grouped(lines: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield one line for the same work at several parts, with what it takes in all.

    Those whose next ways differ stay apart.
    """
    for one, *others in _runs(lines, ("say", "why", "ways")):
        minutes = duration(sum(line["minutes"] for line in (one, *others)))
        yield one | {"minutes": minutes, "others": others}


def _because(reason: str, step: PlannedStep) -> str:
    """Say why other steps come first; that the step itself needs them goes without saying."""
    return "" if reason.startswith(f"“{step.say}”") else lower_first(reason).rstrip(".")


def _whys(step: PlannedStep) -> Iterator[str]:
    """Say what comes first: each reason once, behind all that comes first for it, each name once with its parts."""
    for reason, firsts in by_reason(step.waits_on):
        parts: dict[str, list[str]] = {}
        for one in firsts:
            parts.setdefault(one.say, []).extend([one.part_name] if one.part_name else [])
        steps = [f"“{say}”" + (f" ({'; '.join(at)})" if at and firsts[1:] else "") for say, at in parts.items()]
        because = _because(reason, step)
        words = gettext("after %(steps)s: %(because)s") if because else gettext("after %(steps)s")
        yield words % {"steps": ", ".join(steps), "because": because}


def _first_lines(step: PlannedStep) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """Yield each reason why other steps come first, with those steps as (key, name) to tap."""
    for reason, firsts in by_reason(step.waits_on):
        same = Counter(one.say for one in firsts)
        links = [(one.step_key, f"{one.say} ({one.part_name})" if same[one.say] > 1 else one.say) for one in firsts]
        yield _because(reason, step), links


def _rung_lines(state: JobState, ladder: PlannedLadder) -> Iterator[dict[str, Any]]:
    """The rest of the ladder: what comes next if this way does not free it, and what this bench leaves out, and why."""
    for rung in ladder.rungs:
        if rung.state in {RungState.NEXT, RungState.TRIED}:
            continue
        may = rung.state is RungState.LATER and may_do(state.plan, rung.step_key) is None
        note = rung.why or f"{rung.p * 100:.0f}%, {duration(rung.minutes.likely)}"
        yield {
            "say": rung.entry.name,
            "key": rung.step_key,
            "note": note,
            "state": rung.state.value,
            "is_tappable": may,
        }


def _done_lines(state: JobState) -> Iterator[dict[str, Any]]:
    planned, given_up = {*state.job.retry_keys, *(one.key for one in state.plan.steps)}, state.given_up
    for step in state.plan.done:
        done = step.attempt
        yield {
            "key": done.step_key,
            "say": step.say,
            "where": place_words(state.kind, part=done.part, place=done.place) if done.part else "",
            "outcome": OUTCOME_LABELS[done.outcome],
            "minutes": "" if done.minutes is None else duration(done.minutes),
            "is_offered_again": done.outcome in OFFERED_AGAIN and done.step_key not in planned,
            "may_have_freed": done.step_key in given_up,
        }


def _earlier_lines(state: JobState) -> Iterator[dict[str, Any]]:
    """What failed in a job before this one, at a fault that still stands, and may be offered again."""
    own = {one.step_key for one in state.tries if not one.is_earlier}
    planned = own.union(state.job.retry_keys, (one.key for one in state.plan.steps))
    latest = {one.step_key: one for one in state.tries if one.is_earlier}
    for key, one in latest.items():
        if one.rung and key not in planned and state.kind.has(one.part, one.place):
            yield {
                "key": key,
                "say": catalog().tried_name(one.method, one.rung),
                "where": place_words(state.kind, part=one.part, place=one.place),
                "outcome": OUTCOME_LABELS[one.outcome],
                "is_offered_again": one.outcome in OFFERED_AGAIN,
            }


def sent_lines(plan: Plan, standing: Standing) -> tuple[AwayLine, ...]:
    return tuple(
        AwayLine(
            finding=finding_words(standing.catalog, standing.kind, one.finding),
            say=one.say,
            why=one.why,
            fee_low=one.fee_low_amount,
            fee_high=one.fee_high_amount,
            parts=", ".join(use.name for use in part_uses(one.parts)),
            is_shared=one.is_shared,
        )
        for one in plan.send_out
    )


def left_lines(plan: Plan, standing: Standing) -> tuple[AwayLine, ...]:
    """What the plan leaves, and the findings on parts that the instrument no longer has."""
    left = [(standing.kind, one.finding, one.why) for one in plan.leave]
    left += [(standing.whole_kind, finding, str(NO_LONGER)) for finding in standing.gone]
    return tuple(
        AwayLine(finding=finding_words(standing.catalog, kind, finding), say="", why=why) for kind, finding, why in left
    )


def _wait(state: JobState, clock: StepClock, *, now: datetime) -> dict[str, Any]:
    """Return a step that soaks, dries or sets, and until when; one that the plan no longer has is named by its key."""
    method, part, place, rung = (*clock.step_key.split(":"), "", "", "")[:4]
    return {
        "step_key": clock.step_key,
        "say": catalog().tried_name(method, rung),
        "where": place_words(state.kind, part=part, place=place) if state.kind.has(part, place) else "",
        "is_planned": step_in(state, clock.step_key) is not None,
        "until": clock_time(timezone.localtime(clock.waits_until or now), today=timezone.localtime(now).date()),
        "is_over": now >= (clock.waits_until or now),
    }


def _meanwhile(job: Job, user: Any) -> list[JobState]:
    """What can be done now on other instruments at this bench."""
    others = jobs_with_next_step(user, limit=SHOWN_OTHERS + 1, bench=job.bench.code)
    return [state for state in others if state.job.pk != job.pk and not state.is_waiting][:SHOWN_OTHERS]


def attempt_lines(job: Job) -> list[tuple[Attempt, str, str]]:
    """Return what was done in a job: each attempt, its name and where it was. One query."""
    kind, lines = job.instrument.kind, []
    for attempt in job.attempts.all():
        name = catalog().tried_name(attempt.method, attempt.rung)
        where = place_words(kind, part=attempt.part, place=attempt.place) if attempt.part else ""
        lines.append((attempt, name, where))
    return lines
