"""The plan beforehand: what the work would take at one bench, and what that bench could not do."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Instrument, Whereabouts
from inventory.selectors.standing import standing_of
from repairs.models import Bench
from repairs.rules.plan import Plan
from repairs.rules.words import duration, place_words, waiting
from repairs.selectors.job_page import AwayLine, left_lines, sent_lines
from repairs.selectors.planning import PROVING, plan_for_instrument


@dataclass(frozen=True, slots=True)
class PlanLine:
    say: str
    where: str
    minutes: str
    wait: str
    rungs: int  # further rungs behind it


@dataclass(frozen=True, slots=True)
class OpeningPage:
    instrument: Instrument
    plan: Plan
    steps: tuple[PlanLine, ...]
    sent_out: tuple[AwayLine, ...]
    left: tuple[AwayLine, ...]
    time_p50: str
    time_p80: str
    days_p50: str
    cost_p50: Decimal
    cost_p80: Decimal
    tools: tuple[str, ...]
    has_work: bool  # anything but the play test
    is_in_store: bool
    is_inspected: bool


def opening_page(instrument: Instrument, *, bench: Bench | None) -> OpeningPage:
    standing = standing_of(instrument)
    trade, kind = standing.catalog, standing.kind
    plan = plan_for_instrument(instrument, standing=standing, bench=bench.fact if bench else None)
    return OpeningPage(
        instrument=instrument,
        plan=plan,
        steps=tuple(
            PlanLine(
                say=step.say,
                where=place_words(kind, part=step.part, place=step.place) if step.part else "",
                minutes=duration(step.minutes.likely),
                wait=waiting(float(step.wait_h)) if step.wait_h else "",
                rungs=len(step.next_rungs),
            )
            for step in plan.steps
        ),
        sent_out=sent_lines(plan, standing),
        left=left_lines(plan, standing),
        time_p50=duration(plan.attended_minutes.p50),
        time_p80=duration(plan.attended_minutes.p80),
        days_p50=_days(plan.elapsed_days.p50),
        cost_p50=Decimal(str(round(plan.cost.p50))),
        cost_p80=Decimal(str(round(plan.cost.p80))),
        tools=tuple(trade.tools[code].name for code in plan.tools if code in trade.tools),
        has_work=any(step.method != PROVING for step in plan.steps),
        is_in_store=instrument.whereabouts == Whereabouts.IN_STORE,
        is_inspected=instrument.inspected_at is not None,
    )


def _days(days: float) -> str:
    whole = max(round(days), 1)
    return "1 day" if whole == 1 else f"{whole} days"
