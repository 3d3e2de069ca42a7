"""The list of open jobs, and the plan before a job is opened: what it would take at one bench, and what that bench can't do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.core.paginator import Page
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import ngettext

from inventory.models import Instrument, Whereabouts
from inventory.selectors.standing import standing_of
from repairs.models import Bench, Job
from repairs.pages.job import AwayLine, left_lines, sent_lines
from repairs.rules.plan import Plan
from repairs.rules.words import clock_time, duration, place_words, waiting
from repairs.selectors.planning import PROVING, JobState, job_states, plan_for_instrument


@dataclass(frozen=True, slots=True)
class OpenLine:
    state: JobState
    minutes: str
    left: str  # hands-on time to go, as likely as not
    waits: str  # "until 3:40 pm" or ""
    is_wait_over: bool
    due: str
    is_late: bool


@dataclass(frozen=True, slots=True)
class OpenLines:
    """One page of open jobs: to work on now, and those that soak, dry or set."""

    at_hand: tuple[OpenLine, ...]
    resting: tuple[OpenLine, ...]
    page: Page[Job]

    @property
    def count(self) -> int:
        return self.page.paginator.count


def open_job_lines(page: Page[Job], *, now: datetime) -> OpenLines:
    """Return a page of open jobs with the next step of each. Six queries, however many jobs."""
    today = timezone.localtime(now).date()
    lines = [_line(state, now=now, today=today) for state in job_states(list(page.object_list))]
    return OpenLines(
        at_hand=tuple(one for one in lines if not one.waits or one.is_wait_over),
        resting=tuple(one for one in lines if one.waits and not one.is_wait_over),
        page=page,
    )


def _line(state: JobState, *, now: datetime, today: date) -> OpenLine:
    until = state.clock.waits_until if state.clock else None
    due_on = state.job.due_on
    minutes = state.at_hand.minutes.likely if state.at_hand else 0.0
    return OpenLine(
        state=state,
        minutes=duration(minutes) if minutes else "",
        left=duration(state.plan.taken.attended_minutes.p50),
        waits=clock_time(timezone.localtime(until), today=today) if until else "",
        is_wait_over=bool(until and until <= now),
        due=date_format(due_on, "M j") if due_on else "",
        is_late=bool(due_on and due_on < today),
    )


@dataclass(frozen=True, slots=True)
class PlanLine:
    say: str
    where: str
    minutes: str
    wait: str
    rungs: int  # further ways to try behind it


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
    days = max(round(plan.taken.elapsed_days.p50), 1)
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
        time_p50=duration(plan.taken.attended_minutes.p50),
        time_p80=duration(plan.taken.attended_minutes.p80),
        days_p50=ngettext("%(days)d day", "%(days)d days", days) % {"days": days},
        cost_p50=Decimal(str(round(plan.taken.cost.p50))),
        cost_p80=Decimal(str(round(plan.taken.cost.p80))),
        tools=tuple(trade.tools[code].name for code in plan.tools if code in trade.tools),
        has_work=any(step.method != PROVING for step in plan.steps),
        is_in_store=instrument.whereabouts == Whereabouts.IN_STORE,
        is_inspected=instrument.inspected_at is not None,
    )
