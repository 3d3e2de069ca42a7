"""The list of open jobs, and the plan before a job is opened: what it would take at one bench, and what that bench can't do."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.paginator import Page
from django.utils import timezone
from django.utils.translation import ngettext

from inventory.models import Instrument, Whereabouts
from inventory.selectors.standing import standing_of
from repairs.models import Bench, Job
from repairs.pages.job import left_lines, sent_lines
from repairs.pages.stock import out_of_stock
from repairs.rules.plan.links import SHOP_TRIP
from repairs.rules.words import clock_time, duration, place_words, waiting
from repairs.selectors.planning import PROVING, JobState, job_states, plan_for_instrument


def open_job_lines(page: Page[Job], *, now: datetime) -> dict[str, Any]:
    """Return a page of open jobs with the next step of each, what soaks, dries or sets apart. Seven queries."""
    jobs: Any = page.object_list
    states = job_states(list(jobs.keys_first().for_table().prefetch_related("clocks")))
    lacks = out_of_stock(states)
    lines = [_line(state, now=now) | {"lacks": lacks.get(state.job.pk, "")} for state in states]
    return {
        "at_hand": [one for one in lines if not one["is_resting"]],
        "resting": [one for one in lines if one["is_resting"]],
        "page": page,
    }


def _line(state: JobState, *, now: datetime) -> dict[str, Any]:
    until = state.resting[0].waits_until if state.resting else None
    minutes = state.at_hand.minutes.likely if state.at_hand else 0.0
    due_on = state.job.due_on
    return {
        "state": state,
        "minutes": duration(minutes) if minutes else "",
        "left": duration(state.plan.taken.attended_minutes.p50),
        "waits": clock_time(timezone.localtime(until), today=timezone.localtime(now).date()) if until else "",
        "is_wait_over": bool(until and until <= now),
        "is_resting": state.is_waiting and bool(until and until > now),
        "is_late": bool(due_on and due_on < timezone.localtime(now).date()),
    }


def opening_page(instrument: Instrument, *, bench: Bench | None) -> dict[str, Any]:
    standing = standing_of(instrument)
    trade, kind = standing.catalog, standing.kind
    plan = plan_for_instrument(instrument, standing=standing, bench=bench.fact if bench else None)
    taken = plan.taken
    days = max(round(taken.elapsed_days.p50), 1)
    return {
        "instrument": instrument,
        "at_once": plan.at_once,
        "steps": [
            {
                "say": step.say,
                "where": place_words(kind, part=step.part, place=step.place) if step.part else "",
                "minutes": duration(step.minutes.likely),
                "wait": waiting(float(step.wait_h)) if step.wait_h else "",
                "rungs": len(step.next_rungs),
            }
            for step in plan.steps
        ],
        "sent_out": sent_lines(plan, standing),
        "left": left_lines(plan, standing),
        "time_p50": duration(taken.attended_minutes.p50),
        "time_p80": duration(taken.attended_minutes.p80),
        "days_p50": ngettext("%(days)d day", "%(days)d days", days) % {"days": days},
        "has_trip": any(step.method == SHOP_TRIP for step in plan.steps),
        "cost_p50": round(taken.cost.p50),
        "cost_p80": round(taken.cost.p80),
        "tools": [trade.tools[code].name for code in plan.tools if code in trade.tools],
        "has_work": any(step.method != PROVING for step in plan.steps),  # anything but the play test
        "is_in_store": instrument.whereabouts == Whereabouts.IN_STORE,
        "is_inspected": instrument.inspected_at is not None,
    }
