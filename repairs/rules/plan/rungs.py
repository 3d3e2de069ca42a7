"""A stuck part's ladder as this bench may climb it: which rungs, in what order, and when to stop."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from decimal import Decimal

from inventory.catalog.schema import Ladder, Method, Rung, Skill
from repairs.rules.effort import NOTHING, pert_mean
from repairs.rules.facts import Outcome
from repairs.rules.ladder import MODEL, LadderOrder, RungChoice, best_order, expected_cost
from repairs.rules.plan.case import Case, is_flame, step_key
from repairs.rules.plan.needs import all_needs, cleaning_method
from repairs.rules.plan.values import PlannedLadder, PlannedRung, RungState

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Climb:
    """A ladder at one part, and what has come of it so far."""

    planned: PlannedLadder
    method: Method
    ladder: Ladder
    is_freed: bool
    is_halted: bool
    is_skipped: bool

    @property
    def next_rung(self) -> PlannedRung | None:
        """Return the rung to try here next, or None if only a shop is left."""
        return next((rung for rung in self.planned.rungs if rung.state is RungState.NEXT), None)

    @property
    def outside(self) -> PlannedRung | None:
        return next((rung for rung in self.planned.rungs if rung.state is RungState.OUTSIDE), None)

    def rung(self, code: str) -> Rung:
        return next(rung for rung in self.ladder.rungs if rung.code == code)


def climb_ladder(case: Case, *, method: Method, part: str, place: str, planned: AbstractSet[str]) -> Climb:
    """Return the ladder of a method at a part. ``planned`` holds the keys of shared work planned or done anyway."""
    ladder = case.catalog.ladders[method.ladder]
    key = step_key(method=method.code, part=part, place=place)
    role = case.parts[part].role
    rungs = {
        rung.code: _plan_rung(case, rung=rung, ladder=ladder, method=method, part=part, place=place, planned=planned)
        for rung in ladder.rungs
    }
    outcomes = {code: case.last_outcome.get(rung.step_key) for code, rung in rungs.items()}
    tried = [rungs[code] for code in _by_attempt(case, rungs=rungs) if rungs[code].state is RungState.TRIED]
    outside = [rung for rung in rungs.values() if rung.state is RungState.OUTSIDE]
    order = _order(ladder, rungs={code: rung for code, rung in rungs.items() if rung.state is RungState.LATER})
    wanted = frozenset(rung.step_key for rung in rungs.values()) & case.retry
    ahead, dropped = _worthwhile([rungs[code] for code in order.order], outside=outside, wanted=wanted)
    if ahead:
        ahead[0] = replace(ahead[0], state=RungState.NEXT)
    refused = [rung for rung in rungs.values() if rung.state is RungState.REFUSED]
    choices = [RungChoice(id=rung.code, cost=float(rung.cost_amount), p=rung.p) for rung in (*ahead, *outside)]
    ladder_outcomes = [outcome for code, outcome in outcomes.items() if rungs[code].step_key not in case.retry]
    return Climb(
        planned=PlannedLadder(
            key=key,
            code=ladder.code,
            name=ladder.name,
            part=part,
            place=place,
            rungs=(*tried, *ahead, *outside, *dropped, *refused),
            expected_cost_amount=Decimal(str(expected_cost(choices))).quantize(CENT),
            model=f"{MODEL}; odds for a {role.replace('_', ' ')} given that the rungs before failed",
            exact=order.exact,
            stop_if=ladder.stop_if,
            never=ladder.never,
            freed_words=ladder.freed_words,
            stuck_words=ladder.stuck_words,
        ),
        method=method,
        ladder=ladder,
        is_freed=any(outcome is not None and outcome.is_success for outcome in ladder_outcomes),
        is_halted=any(outcome is not None and outcome.is_halt for outcome in ladder_outcomes),
        is_skipped=case.outcome(key) is Outcome.SKIPPED,
    )


def _plan_rung(
    case: Case, *, rung: Rung, ladder: Ladder, method: Method, part: str, place: str, planned: AbstractSet[str]
) -> PlannedRung:
    key = step_key(method=method.code, part=part, place=place, rung=rung.code)
    odds = case.odds.posterior(
        ladder=ladder.code, rung=rung.code, default_p=rung.p, kind=case.kind.code, role=case.parts[part].role
    )
    is_free = bool(rung.shared_with) and rung.shared_with in planned
    span = NOTHING if is_free else case.minutes(f"{ladder.code}.{rung.code}", rung.minutes)
    wait_h = Decimal(0) if is_free else rung.wait_h
    state, why = _state(case, rung=rung, ladder=ladder, method=method, part=part, place=place, key=key)
    shared = case.catalog.methods.get(rung.shared_with)
    if is_free and not why and shared is not None:
        why = f"nothing extra: “{shared.name}” does it"
    needs = all_needs(case, codes=rung_needs(case, rung=rung, ladder=ladder), part=part, place=place)
    return PlannedRung(
        code=rung.code,
        step_key=key,
        say=rung.name,
        state=state,
        why=why,
        odds=odds,
        minutes=span,
        wait_h=wait_h,
        cost_amount=_cost(case, rung=rung, ladder=ladder, mean_minutes=pert_mean(span), wait_h=wait_h),
        harm=rung.harm,
        force=rung.force,
        is_free=is_free,
        first=tuple(needed.method.name for needed in needs.found),
        held_by=tuple(o.code for o in ladder.rungs if o.code in rung.after or o.force < rung.force),
        warn=rung.warn,
    )


def rung_needs(case: Case, *, rung: Rung, ladder: Ladder) -> tuple[str, ...]:
    """Return the methods before a rung: its own, and a cleaning before a flame where the ladder uses oil."""
    if not is_flame(tags=rung.tags, tools=rung.tools) or not any("oil" in other.tags for other in ladder.rungs):
        return rung.needs
    cleaning = cleaning_method(case)
    if cleaning is None or cleaning.code in rung.needs:
        return rung.needs
    return (*rung.needs, cleaning.code)


def _state(
    case: Case, *, rung: Rung, ladder: Ladder, method: Method, part: str, place: str, key: str
) -> tuple[RungState, str]:
    outcome = case.outcome(key)
    if outcome is not None:
        return RungState.TRIED, outcome.value.replace("_", " ")
    why = case.given_up.get(key, "") or case.forbidden(tags=rung.tags, part=part, wait_h=rung.wait_h, is_whole=False)
    if why:
        return RungState.REFUSED, why
    lacking = case.lacking_for_rung(rung, ladder=ladder, method=method)
    if lacking and rung.skill is Skill.SPECIALIST and rung.fee is not None:
        return RungState.OUTSIDE, "at an outside shop"
    if lacking:
        return RungState.REFUSED, lacking
    if rung.p <= 0:
        return RungState.REFUSED, "a look, not a try: it frees nothing"
    needs = all_needs(case, codes=rung_needs(case, rung=rung, ladder=ladder), part=part, place=place)
    if needs.refusal:
        return RungState.REFUSED, needs.refusal
    if is_flame(tags=rung.tags, tools=rung.tools) and cleaning_method(case) is None:
        return RungState.REFUSED, "oil could not be cleaned off before a flame here"
    return RungState.LATER, ""


def _cost(case: Case, *, rung: Rung, ladder: Ladder, mean_minutes: float, wait_h: Decimal) -> Decimal:
    """Return what one try weighs: bench time, fee, harm times what harm costs, and the days a student waits for it."""
    time = case.bench.rate_amount * Decimal(str(mean_minutes)) / 60
    fee = (rung.fee[0] + rung.fee[1]) / 2 if rung.fee is not None else Decimal(0)
    harm = Decimal(str(rung.harm)) * ladder.harm_cost
    waiting = case.waiting_day_amount * wait_h / 24
    return (time + fee + harm + waiting).quantize(CENT)


def _by_attempt(case: Case, *, rungs: dict[str, PlannedRung]) -> list[str]:
    """Return rung codes, the tried ones first in the order they were last tried."""
    last = {attempt.step_key: number for number, attempt in enumerate(case.attempts)}
    return sorted(rungs, key=lambda code: last.get(rungs[code].step_key, len(last)))


def _order(ladder: Ladder, *, rungs: dict[str, PlannedRung]) -> LadderOrder:
    """Return the best order under gentleness: no rung before one of a lower force class, nor before its ``after``."""
    known = {rung.code: rung for rung in ladder.rungs}
    choices = []
    for code, rung in rungs.items():
        gentler = [other.code for other in rungs.values() if other.force < rung.force]
        named = [other for other in known[code].after if other in rungs and other not in gentler]
        choices.append(RungChoice(id=code, cost=float(rung.cost_amount), p=rung.p, after=(*gentler, *named)))
    return best_order(choices)


def _worthwhile(
    rungs: list[PlannedRung], *, outside: list[PlannedRung], wanted: AbstractSet[str]
) -> tuple[list[PlannedRung], list[PlannedRung]]:
    """Split rungs into those worth a try and those that cost more than going on to the shop without them.

    Seen from the end: a try is worth it while its cost is less than its chance times what comes after. ``wanted``
    keys are kept: somebody asked for them.
    """
    if not outside:
        return rungs, []
    to_come = expected_cost([RungChoice(id=rung.code, cost=float(rung.cost_amount), p=rung.p) for rung in outside])
    keep: list[PlannedRung] = []
    drop: list[PlannedRung] = []
    for rung in reversed(rungs):
        with_it = float(rung.cost_amount) + (1.0 - rung.p) * to_come
        if with_it > to_come and rung.step_key not in wanted:
            why = f"a try weighs ${rung.cost_amount} and saves {rung.p * 100:.0f} % of ${to_come:.2f}: the shop is cheaper"
            drop.insert(0, replace(rung, state=RungState.REFUSED, why=why))
        else:
            keep.insert(0, rung)
            to_come = with_it
    return keep, drop
