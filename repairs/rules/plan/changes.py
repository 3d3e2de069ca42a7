"""What an outcome saved, and whether a step may be done out of order."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from core.translation import gettext as _
from repairs.rules.plan.estimate import expected_takes
from repairs.rules.plan.values import Plan, PlannedLadder, PlannedRung, PlannedStep, RungState, Soaked, StuckPart


@dataclass(frozen=True, slots=True)
class Savings:
    """What the rungs that were dropped would have taken on average: hands-on minutes and dollars."""

    minutes: float
    amount: Decimal
    rungs: tuple[str, ...]  # names of the rungs no longer needed


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a step may not be done now, and the steps that have to come first."""

    reason: str
    first: tuple[str, ...] = ()


def savings(before: Plan, after: Plan) -> Savings:
    """Return what freeing early saved: the mean of the harder rungs of every ladder that is gone without a shop.

    ``before`` is the plan as it stood when the try was made. The dollars are bench time, fee, harm and waiting as the
    order weighs them.
    """
    still = {ladder.key for ladder in after.ladders}
    sent = {(one.finding.part, one.finding.place) for one in after.send_out}
    minutes, amount = 0.0, Decimal(0)
    dropped: list[str] = []
    for ladder in before.ladders:
        if ladder.key in still or (ladder.part, ladder.place) in sent:
            continue
        harder = ladder.ahead[1:]
        takes = expected_takes(harder)
        minutes, amount = minutes + takes.minutes, amount + takes.amount
        dropped += [rung.entry.name for rung in harder]
    return Savings(minutes=minutes, amount=amount, rungs=tuple(dropped))


def soaked_in(plan: Plan, method: str) -> tuple[Soaked, ...]:
    """Return, for each stuck part that sits in a work on the whole instrument, the bath, its own way of that work.

    Whoever has tried something harder there, or leaves the part to a shop, finds out all the same whether the bath
    frees it; what must stay dry is left out.
    """
    ladders = {ladder.key: ladder for ladder in plan.ladders}
    stuck = [
        StuckPart(ladder=ladders[step.ladder_key], part_name=step.part_name, findings=step.findings)
        for step in plan.steps
        if step.ladder_key in ladders
    ]
    return tuple(
        Soaked(
            key=rung.step_key,
            method=rung.step_key.partition(":")[0],
            rung=rung.entry.code,
            part=one.ladder.part,
            part_name=one.part_name,
            place=one.ladder.place,
            say=rung.entry.name,
            findings=one.findings,
        )
        for one in (*stuck, *plan.sent_stuck)
        for rung in one.ladder.rungs
        if rung.entry.shared_with == method and _sat_in(rung)
    )


def alike(plan: Plan, key: str) -> tuple[PlannedStep, ...]:
    """Return the steps that are the same at other parts and may be done now, too.

    A way that soaks, at other stuck parts, or work that frees nothing and waits for nothing, such as pads one by one.
    """
    step = plan.step(key)
    if step is None or bool(step.rung) != bool(step.wait_h) or step.waits_on:
        return ()
    way = (step.method, step.rung)
    return tuple(one for one in plan.steps if (one.method, one.rung) == way and one.key != key and not one.waits_on)


def _sat_in(rung: PlannedRung) -> bool:
    return rung.state in {RungState.NEXT, RungState.LATER, RungState.TRIED} or rung.is_passed


def may_do(plan: Plan, key: str) -> Refusal | None:
    """Return None if the step may be done now, else why not.

    A rung further up may be taken before the next one only if nothing gentler is left and nothing else must be done
    first.
    """
    for step in plan.steps:
        if step.key == key:
            return Refusal(reason=step.blocked_because, first=step.prerequisites) if step.waits_on else None
    for ladder in plan.ladders:
        for rung in ladder.rungs:
            if rung.step_key == key:
                return _may_climb(ladder, rung)
    for done in plan.done:
        if done.attempt.step_key == key:
            outcome = done.attempt.outcome
            is_done = outcome.is_success
            return Refusal(_("“%(way)s” is already done", way=done.say) if is_done else _tried(done.say, outcome.words))
    return Refusal(_("this is not a step of the plan"))


def _tried(way: str, outcome: str) -> str:
    return _("“%(way)s” was already tried (%(outcome)s): ask for it again", way=way, outcome=outcome)


def _may_climb(ladder: PlannedLadder, rung: PlannedRung) -> Refusal | None:
    if rung.state is RungState.TRIED:
        return Refusal(_tried(rung.entry.name, rung.why))
    if rung.state is RungState.REFUSED:
        return Refusal(reason=rung.why)
    if rung.state is RungState.OUTSIDE:
        return Refusal(_("a shop's work"))
    gentler = [other for other in ladder.ahead if other.entry.code in rung.held_by]
    if gentler:
        names = ", ".join(f"“{other.entry.name}”" for other in gentler)
        return Refusal(_("gentler first: %(ways)s", ways=names), first=tuple(other.step_key for other in gentler))
    if rung.first:
        return Refusal(_("first: %(steps)s", steps=", ".join(rung.first)))
    return None
