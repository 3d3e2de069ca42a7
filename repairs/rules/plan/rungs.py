"""A stuck part's ladder as this bench may climb it: which rungs, in what order, and when to stop."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from decimal import Decimal

from core.money import cents
from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Ladder, Method, Rung, Skill
from inventory.rules.facts import FindingFact
from repairs.rules.effort import NOTHING, pert_mean
from repairs.rules.facts import Outcome
from repairs.rules.ladder import RungChoice, best_order, expected_cost, worth_trying
from repairs.rules.plan.case import OIL, Case, is_flame, step_key
from repairs.rules.plan.needs import Needs, all_needs, putting_back
from repairs.rules.plan.values import Bill, PlannedLadder, PlannedRung, RungState

GENTLE_HEAT = 3  # force class; common practice: two failures above it end the tries here
HARD_FAILURES = 2
BENEFIT = "benefit_of_doubt"
USUAL_BENEFIT = Decimal("0.7")  # where a catalog says nothing
FAILED = frozenset({Outcome.STILL_STUCK, Outcome.NOT_RIGHT})
PASSED_WORDS = gettext_noop("something harder has failed already")
AS_IT_COMES_WORDS = gettext_noop("it has been in the bath: try it as it comes out")
STOP_WORDS = gettext_noop("after two failures harder than gentle heat it is a shop's turn")
TOO_DEAR_WORDS = gettext_noop(
    "a try comes to $%(cost)s and saves at best %(share)s%% of $%(without)s: %(instead)s is cheaper"
)
TOO_DEAR_WITH_NEEDS_WORDS = gettext_noop(
    "a try with what it needs first comes to $%(cost)s and saves at best %(share)s%% of $%(without)s: "
    "%(instead)s is cheaper"
)


@dataclass(frozen=True, slots=True)
class Spot:
    """A ladder at one part of a case, and what the rest of the plan does for it."""

    case: Case
    method: Method
    part: str
    place: str
    planned: AbstractSet[str]  # keys of shared work planned or done anyway
    mending: Mapping[FindingFact, str]  # findings that the plan puts right, with the step that does it
    cleaning: Method | None  # what takes oil off here

    @property
    def ladder(self) -> Ladder:
        return self.case.catalog.ladders[self.method.ladder]

    @property
    def key(self) -> str:
        return step_key(method=self.method.code, part=self.part, place=self.place)

    @property
    def role(self) -> str:
        return self.case.parts[self.part].role

    def key_of(self, rung: Rung) -> str:
        return step_key(method=self.method.code, part=self.part, place=self.place, rung=rung.code)

    def held(self, rung: Rung) -> Mapping[str, str]:
        """Return the steps that must be done before guards of the whole instrument let this rung be tried, and why."""
        guards = self.case.guards_against(rung.tags, part=self.part, place=self.place, is_whole=False)
        return {
            self.mending[finding]: guard.because for guard, finding in guards if guard.waits and finding in self.mending
        }

    def forbidden(self, rung: Rung) -> str:
        """Return why nobody should try this rung at all; guards that only hold for now do not count."""
        guards = self.case.guards_against(rung.tags, part=self.part, place=self.place, is_whole=False)
        for guard, finding in guards:
            if not guard.waits or finding not in self.mending:
                return guard.because
        return self.case.wetted(frozenset(rung.tags), part=self.part, wait_h=rung.wait_h, is_whole=False)

    @property
    def stuck(self) -> FindingFact | None:
        """Return the worst of what it is to put right here; None if all that is gone."""
        here = [one for one in self.case.findings if (one.part, one.place) == (self.part, self.place)]
        ours = [one for one in here if one.fault in self.method.fixes]
        return max(ours, key=lambda one: one.severity.rank, default=None)

    def ruled_out(self, rung: Rung) -> str:
        """Return the words of the finding that say that this rung has failed already; "" if none do."""
        stuck = self.stuck
        if stuck is None or stuck.severity in rung.severities:
            return ""
        return _("“%(words)s” rules it out", words=self.case.catalog.faults[stuck.fault].words[stuck.severity])

    def is_shared_work_done(self, rung: Rung) -> bool:
        """Whether the work that it rides on, the bath, has been done in this job."""
        outcome = self.case.outcome(rung.shared_with) if rung.shared_with else None
        return outcome is not None and outcome.is_success

    def needs(self, rung: Rung) -> Needs:
        """Return the methods before a rung: its own, and a cleaning before a flame where the ladder uses oil."""
        codes = rung.needs
        is_oily = any(OIL.intersection(one.tags) for one in self.ladder.rungs)
        if is_oily and is_flame(tags=rung.tags, tools=rung.tools) and self.cleaning is not None:
            codes = tuple(dict.fromkeys((*codes, self.cleaning.code)))
        return all_needs(self.case, codes=codes, part=self.part, place=self.place)


@dataclass(frozen=True, slots=True)
class Climb:
    """A ladder at one part, and what has come of it so far."""

    spot: Spot
    planned: PlannedLadder

    @property
    def method(self) -> Method:
        return self.spot.method

    @property
    def ladder(self) -> Ladder:
        return self.spot.ladder

    def work(self, rung: PlannedRung) -> str:
        """Return what a try is, wherever it is made."""
        return f"{self.ladder.code}.{rung.entry.code}"

    @property
    def _outcomes(self) -> list[Outcome]:
        outcomes = (self.spot.case.outcome(rung.step_key) for rung in self.planned.rungs)
        return [outcome for outcome in outcomes if outcome is not None]

    @property
    def is_freed(self) -> bool:
        return any(outcome.is_success for outcome in self._outcomes)

    @property
    def is_halted(self) -> bool:
        return any(outcome.is_halt for outcome in self._outcomes)

    @property
    def is_skipped(self) -> bool:
        return self.spot.case.outcome(self.spot.key) is Outcome.SKIPPED

    @property
    def next_rung(self) -> PlannedRung | None:
        """Return the rung to try here next, or None if only a shop is left."""
        return next((rung for rung in self.planned.rungs if rung.state is RungState.NEXT), None)


def climb_ladder(spot: Spot) -> Climb:
    """Return the ladder of a method at a part as this bench may climb it.

    What is left to try is put into its cheapest order, then cut: rungs gentler than one that failed or than the bath it
    has been in, rungs after two hard failures, and rungs that cost more than they save.
    """
    case, ladder = spot.case, spot.ladder
    rungs = [_plan_rung(spot, rung) for rung in ladder.rungs if not rung.roles or spot.role in rung.roles]
    tried = _in_order_of_attempts(case, [rung for rung in rungs if rung.state is RungState.TRIED])
    outside = [rung for rung in rungs if rung.state is RungState.OUTSIDE]
    failed = [rung.entry.force for rung in tried if case.outcome(rung.step_key) in FAILED]
    ahead = _cheapest_order([rung for rung in rungs if rung.state is RungState.LATER])
    # The cuts in this order: what is worth a try depends on what comes after it, so that is judged last.
    ahead, passed = _without_gentler(ahead, failed=failed, retry=case.retry)
    ahead, bathed = _as_it_comes(spot, ahead)
    ahead, stopped = _until_hard_failures(ahead, failed=failed, retry=case.retry)
    ahead, dropped = _worthwhile(case, ahead, outside=outside)
    if ahead:
        ahead[0] = replace(ahead[0], state=RungState.NEXT)
    refused = [rung for rung in rungs if rung.state is RungState.REFUSED]
    rungs = [*tried, *ahead, *outside, *dropped, *stopped, *bathed, *passed, *refused]
    return Climb(spot, PlannedLadder(ladder, key=spot.key, part=spot.part, place=spot.place, rungs=tuple(rungs)))


def _plan_rung(spot: Spot, rung: Rung) -> PlannedRung:
    case, ladder = spot.case, spot.ladder
    is_free = bool(rung.shared_with) and rung.shared_with in spot.planned
    span = NOTHING if is_free else case.minutes(f"{ladder.code}.{rung.code}", rung.minutes)
    wait_h = Decimal(0) if is_free else rung.wait_h
    needs = spot.needs(rung)
    state, why = _state(spot, rung, needs=needs)
    shared = case.catalog.methods.get(rung.shared_with)
    if is_free and not why and shared is not None:
        why = _("nothing extra: “%(method)s” does it", method=shared.name)
    first = [needed.method.name for needed in needs.found]
    first += [case.catalog.methods[key.partition(":")[0]].name for key in spot.held(rung)]
    rides_on = [needed.key for needed in needs.found if needed.key in spot.planned]
    rides_on += [rung.shared_with] if is_free else []
    return PlannedRung(
        entry=rung,
        step_key=spot.key_of(rung),
        state=state,
        why=why,
        odds=case.odds.posterior(
            ladder=ladder.code, rung=rung.code, default_p=rung.p, kind=case.kind.code, role=spot.role
        ),
        minutes=span,
        wait_h=wait_h,
        cost_amount=_cost(case, rung=rung, ladder=ladder, mean_minutes=pert_mean(span), wait_h=wait_h),
        is_free=is_free,
        first=tuple(dict.fromkeys(first)),
        first_takes=_first_takes(spot, needs=needs),
        waits_on=tuple(dict.fromkeys(rides_on)),
        held_by=tuple(o.code for o in ladder.rungs if o.code in rung.after or o.force < rung.force),
    )


def _first_takes(spot: Spot, *, needs: Needs) -> tuple[tuple[str, Bill], ...]:
    """Return what a rung needs and nothing else of the plan asks for, its putting back included."""
    case = spot.case
    planned = [case.catalog.methods[key.partition(":")[0]] for key in spot.planned]
    more = [needed for needed in needs.found if needed.key not in spot.planned]
    owed = {code for method in planned for code in method.put_back}
    back = [one for one in putting_back(case, [one.method for one in more]) if one.method.code not in owed]
    taken = [(needed.method.name, case.mean_minutes(needed.method)) for needed in (*more, *back)]
    return tuple((name, Bill(minutes, cents(case.bench_time(minutes)))) for name, minutes in taken)


def _state(spot: Spot, rung: Rung, *, needs: Needs) -> tuple[RungState, str]:
    """Return where a rung stands before any order, and why."""
    case, key = spot.case, spot.key_of(rung)
    outcome = case.outcome(key)
    if outcome is not None:
        return RungState.TRIED, outcome.words
    forbidden = (
        case.given_up.get(key, "") or spot.forbidden(rung) or ("" if key in case.retry else spot.ruled_out(rung))
    )
    if forbidden:
        return RungState.REFUSED, forbidden
    lacking = case.lacking_for_rung(rung, ladder=spot.ladder, method=spot.method)
    if lacking and rung.skill is Skill.SPECIALIST and rung.fee is not None:
        return RungState.OUTSIDE, _("at an outside shop")
    if not lacking and rung.p <= 0:
        lacking = _("a look, not a try: it frees nothing")
    if not lacking and not needs.refusal and is_flame(tags=rung.tags, tools=rung.tools) and spot.cleaning is None:
        lacking = _("oil could not be cleaned off before a flame here")
    why = lacking or needs.refusal
    return (RungState.REFUSED, why) if why else (RungState.LATER, "")


def _cost(case: Case, *, rung: Rung, ladder: Ladder, mean_minutes: float, wait_h: Decimal) -> Decimal:
    """Return what one try counts for: bench time, fee, harm times its cost, and the days a student waits for it."""
    time = case.bench_time(mean_minutes)
    fee = (rung.fee[0] + rung.fee[1]) / 2 if rung.fee is not None else Decimal(0)
    harm = Decimal(str(rung.harm)) * ladder.harm_cost
    waiting = case.waiting_day_amount * wait_h / 24
    return cents(time + fee + harm + waiting)


def _in_order_of_attempts(case: Case, rungs: list[PlannedRung]) -> list[PlannedRung]:
    last = {attempt.step_key: number for number, attempt in enumerate(case.attempts)}
    return sorted(rungs, key=lambda rung: last[rung.step_key])


def choice_of(rung: PlannedRung, *, after: tuple[str, ...] = ()) -> RungChoice:
    """Return the rung as the order weighs it."""
    set_up = tuple((name, float(bill.amount)) for name, bill in rung.first_takes)
    return RungChoice(id=rung.entry.code, cost=float(rung.cost_amount), p=rung.p, after=after, set_up=set_up)


def _cheapest_order(rungs: list[PlannedRung]) -> list[PlannedRung]:
    """Return the gentle order of least expected cost: none before a lower force class, nor before its ``after``."""
    by_code = {rung.entry.code: rung for rung in rungs}
    choices = []
    for rung in rungs:
        gentler = [other.entry.code for other in rungs if other.entry.force < rung.entry.force]
        after = dict.fromkeys((*gentler, *(code for code in rung.entry.after if code in by_code)))
        choices.append(choice_of(rung, after=tuple(after)))
    return [by_code[code] for code in best_order(choices).order]


def _refused(rungs: list[PlannedRung], why: str, *, is_passed: bool = False) -> list[PlannedRung]:
    return [replace(rung, state=RungState.REFUSED, why=why, is_passed=is_passed) for rung in rungs]


def _without_gentler(
    rungs: list[PlannedRung], *, failed: list[int], retry: AbstractSet[str]
) -> tuple[list[PlannedRung], list[PlannedRung]]:
    """Split off the rungs gentler than one that failed here: their odds hold only before it. Asked for, they stay."""
    hardest = max(failed, default=0)
    gentler = [rung for rung in rungs if rung.entry.force < hardest and rung.step_key not in retry]
    return [rung for rung in rungs if rung not in gentler], _refused(gentler, _(PASSED_WORDS), is_passed=True)


def _as_it_comes(spot: Spot, rungs: list[PlannedRung]) -> tuple[list[PlannedRung], list[PlannedRung]]:
    """Split off the rungs gentler than a bath it has been in: a try as it comes out is the same pull, and more."""
    bathed = max((rung.entry.force for rung in rungs if spot.is_shared_work_done(rung.entry)), default=0)
    gentler = [rung for rung in rungs if rung.entry.force < bathed and rung.step_key not in spot.case.retry]
    return [rung for rung in rungs if rung not in gentler], _refused(gentler, _(AS_IT_COMES_WORDS))


def _until_hard_failures(
    rungs: list[PlannedRung], *, failed: list[int], retry: AbstractSet[str]
) -> tuple[list[PlannedRung], list[PlannedRung]]:
    """Split rungs in order where two tries harder than gentle heat will have failed: from there it is a shop's."""
    failures = sum(force > GENTLE_HEAT for force in failed)
    keep: list[PlannedRung] = []
    for rung in rungs:
        if failures < HARD_FAILURES or rung.step_key in retry:
            keep.append(rung)
            failures += rung.entry.force > GENTLE_HEAT
    return keep, _refused([rung for rung in rungs if rung not in keep], _(STOP_WORDS), is_passed=True)


def _worthwhile(
    case: Case, rungs: list[PlannedRung], *, outside: list[PlannedRung]
) -> tuple[list[PlannedRung], list[PlannedRung]]:
    """Split rungs into those worth a try and those that cost more than going on to the shop without them.

    A rung has the benefit of the doubt: judged by its middle chance alone, a few unlucky tries would end it for good,
    and nobody would ever learn that it was luck. A rung that somebody asked for is kept. Without a shop to go to, every
    rung is worth a try.
    """
    if not outside:
        return rungs, []
    doubt = float(case.catalog.settings.get(BENEFIT, USUAL_BENEFIT))
    hoped = {rung.entry.code: max(rung.odds.quantile(doubt), rung.p) for rung in rungs}
    kept, dropped = worth_trying(
        [replace(choice_of(rung), p=hoped[rung.entry.code]) for rung in rungs],
        to_come=expected_cost([choice_of(rung) for rung in outside]),
        wanted={rung.entry.code for rung in rungs if rung.step_key in case.retry},
    )
    refused = []
    for at, rung in enumerate(rungs):
        if (code := rung.entry.code) in dropped:
            cost, without = dropped[code]
            following = next((other for other in rungs[at + 1 :] if other.entry.code in kept), None)
            words = _(
                TOO_DEAR_WITH_NEEDS_WORDS if rung.first_takes else TOO_DEAR_WORDS,
                cost=f"{cost:.2f}",
                share=f"{hoped[code] * 100:.0f}",
                without=f"{without:.2f}",
                instead=_("going on with “%(way)s”", way=following.entry.name) if following else _("the shop"),
            )
            refused += _refused([rung], words)
    return [rung for rung in rungs if rung.entry.code in kept], refused
