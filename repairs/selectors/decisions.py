"""Decisions about instruments as they stand: which holds, which was refused, which answer somebody has not read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from core.models import User
from inventory.models import Instrument, Whereabouts
from repairs.models import Job, ShopOrder, WorthDecision, WorthDecisionQuerySet
from repairs.rules.plan import SHOP_TRIP, PlannedStep
from repairs.rules.worth import Answer, is_within_refusal
from repairs.selectors.planning import JobState
from repairs.selectors.shops import approval_limit
from repairs.selectors.worth import spent_in

SHOWN = 8  # answers on a first page
LOOKED_BACK = 20  # decisions about one instrument, for the last that was refused


def in_force(instrument: Instrument | int) -> WorthDecision | None:
    """Return the decision that counts now: the latest that holds, or a refusal to spend after it. One query."""
    rows = WorthDecision.objects.filter(instrument=instrument).in_force()
    return rows.select_related("decided_by", "settled_by").order_by("-pk").first()


def refusal_of(instrument: Instrument | int) -> WorthDecision | None:
    """Return the refusal to spend on it that no newer decision has lifted. One query."""
    decision = in_force(instrument)
    return decision if decision is not None and decision.is_refused else None


def refusal_to_tell(instrument: Instrument) -> WorthDecision | None:
    """Return what its pages say on top: a refusal to spend that stands, or the latest decision's, not read yet."""
    rows = WorthDecision.objects.filter(instrument=instrument).select_related("decided_by", "settled_by")
    for place, one in enumerate(rows.order_by("-pk")[:LOOKED_BACK]):
        if one.holds:
            break
        if one.is_refused and (one.spends or (place == 0 and one.answer_read_at is None)):
            return one
    return None


def decisions_to_settle(user: Any) -> WorthDecisionQuerySet:
    """Return what waits for this user's approval, oldest first."""
    return WorthDecision.objects.visible_to(user, "repairs.approve_cost").waiting().order_by("decided_at", "pk")


def own_decisions(user: User) -> list[WorthDecision]:
    """Return what this person asked: the answers not read yet, then what waits for one, latest first. Two queries."""
    mine = WorthDecision.objects.visible_to(user).filter(decided_by=user).order_by("-pk")
    return [
        row
        for rows in (mine.answers_for(user), mine.waiting())
        for row in rows[:SHOWN].keys_first().select_related("instrument__school", "decided_by", "settled_by")
    ]


def is_stopped(*steps: PlannedStep, job: Job) -> bool:
    """Whether a refusal to spend stops one of these steps of the job, done one after another. Two queries."""
    here = [step for step in steps if step.method != SHOP_TRIP]  # a shop's order is refused where it is sent
    return bool(here) and not is_within_refusal(
        parts_amount=sum((need.middle for step in here for need in step.parts), Decimal(0)),
        cost_amount=sum((step.cost_amount for step in here), Decimal(0)),
        spent_amount=spent_in(job).amount,
        limit=approval_limit(),
    )


def stopped_jobs(states: Sequence[JobState]) -> Mapping[int, WorthDecision]:
    """Return the refusal by the key of each job that cannot be finished under it.

    What was begun before the refusal is finished. One query, and two for each job whose repair was refused.
    """
    rows = WorthDecision.objects.filter(instrument__in=[state.job.instrument_id for state in states]).in_force()
    rows = rows.select_related("decided_by", "settled_by").order_by("pk")
    latest = {row.instrument_id: row for row in rows}
    stopped = {}
    for state in states:
        decision = latest.get(state.job.instrument_id)
        if decision is None or decision.settled_at is None or not decision.is_refused:
            continue
        begun = {clock.step_key for clock in state.clocks if clock.started_at <= decision.settled_at}
        if is_stopped(*(step for step in state.left_to_do if step.key not in begun), job=state.job):
            stopped[state.job.pk] = decision
    return stopped


def is_begun(decision: WorthDecision) -> bool:
    """Whether a job or a shop order carries it out, or has done so. Two queries at most."""
    return decision.jobs.exists() or decision.orders.exists()


def open_work(instrument: Instrument) -> tuple[Job | None, ShopOrder | None]:
    """Return its open job and its open order. Two queries."""
    return (
        Job.objects.open().filter(instrument=instrument).first(),
        ShopOrder.objects.open().filter(instrument=instrument).first(),
    )


def retired_differences() -> Iterator[str]:
    """Say what is retired without a decision that holds, and what such a decision has not retired.

    An instrument that is not in storage is left out of the second: it was decided about before decisions retired.
    """
    held = WorthDecision.objects.in_force().exclude(is_approved=False).order_by("pk")
    answers = dict(held.values_list("instrument", "answer"))  # the latest of each
    for pk, number, is_retired, where in Instrument.objects.values_list(
        "pk", "asset_number", "is_retired", "whereabouts"
    ):
        is_decided = answers.get(pk) == Answer.RETIRE
        if is_retired and not is_decided:
            yield f"{number}: is_retired is True, but no decision to retire it holds"
        if is_decided and not is_retired and where == Whereabouts.IN_STORE:
            yield f"{number}: is_retired is False, but a decision to retire it holds"
