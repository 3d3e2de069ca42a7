"""A plan as plain values, for a command line, a phone page's data or another program."""

from __future__ import annotations

from core.translation import gettext as _
from inventory.rules.facts import FindingFact
from repairs.rules.effort import Estimate, Range
from repairs.rules.plan.estimate import METHOD
from repairs.rules.plan.values import AtOnce, Plan, PlannedRung, PlannedStep, SentOut


def plan_as_dict(plan: Plan) -> dict[str, object]:
    """Return the plan in words, numbers and lists: minutes and hours as numbers, money in dollars."""
    return {
        "kind": plan.kind,
        "bench": plan.bench,
        "steps": [_step(step) for step in plan.steps],
        **{name: _estimate(one) for name, one in plan.taken._asdict().items()},
        "estimated_by": _(METHOD),
        "sent_out": [_sent(one) for one in plan.send_out],
        "all_at_once": [_at_once(one) for one in plan.at_once],
        "left": [{"finding": _finding(one.finding), "why": one.why} for one in plan.leave],
        "not_here": list(plan.not_here),
        "done": [
            {"key": one.attempt.step_key, "say": one.say, "outcome": one.attempt.outcome.value} for one in plan.done
        ],
    }


def _step(step: PlannedStep) -> dict[str, object]:
    found: dict[str, object] = {
        "key": step.key,
        "method": step.method,
        "rung": step.rung or None,
        "part": step.part or None,
        "place": step.place or None,
        "say": step.say,
        "findings": [_finding(one) for one in step.findings],
        "minutes": _range(step.minutes),
        "wait_h": float(step.wait_h),
        "cost": float(step.cost_amount),
        "hazards": [hazard.code for hazard in step.cautions],
        "tools": list(step.tools),
        "tags": list(step.tags),
        "setup": step.setup or None,
        "prerequisites": list(step.prerequisites),
        "status": "blocked" if step.waits_on else "ready",
        "blocked_because": step.blocked_because or None,
    }
    if step.odds is not None:
        found["odds"] = {"p": round(step.odds.mean, 4), "says": step.odds.sentence}
        found["next_rungs"] = [_rung(rung) for rung in step.next_rungs]
    return found


def _rung(rung: PlannedRung) -> dict[str, object]:
    return {
        "rung": rung.entry.code,
        "say": rung.entry.name,
        "state": rung.state.value,
        "p": round(rung.p, 4),
        "minutes": _range(rung.minutes),
        "wait_h": float(rung.wait_h),
        "warn": rung.entry.warn or None,
    }


def _sent(one: SentOut) -> dict[str, object]:
    return {
        "finding": _finding(one.finding),
        "method": one.method or None,
        "say": one.say,
        "why": one.why,
        "fee": {"low": float(one.fee_low_amount), "high": float(one.fee_high_amount)},
        "parts": [part.code for part in one.parts],
        "is_shared": one.is_shared,
        "wait_h": float(one.wait_h),
    }


def _at_once(one: AtOnce) -> dict[str, object]:
    return {
        "method": one.method,
        "say": one.say,
        "count": one.count,
        "one_by_one": {"minutes": round(one.one_by_one.minutes, 2), "cost": float(one.one_by_one.amount)},
        "all_at_once": {"minutes": round(one.all_at_once.minutes, 2), "cost": float(one.all_at_once.amount)},
        "from_count": one.from_count,
        "is_chosen": one.is_chosen,
        "is_at_shop": one.is_at_shop,
        "says": one.sentence,
    }


def _finding(one: FindingFact) -> dict[str, object]:
    return {"part": one.part, "place": one.place or None, "fault": one.fault, "severity": one.severity.value}


def _range(span: Range) -> dict[str, float]:
    return {"low": round(span.low, 2), "likely": round(span.likely, 2), "high": round(span.high, 2)}


def _estimate(one: Estimate) -> dict[str, float]:
    return {"p50": round(one.p50, 2), "p80": round(one.p80, 2), "mean": round(one.mean, 2)}
