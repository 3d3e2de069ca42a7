"""The day plan of the bench in words: which job next and why, what to do together, and what to do when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext, ngettext

from core.days import short_day
from desk.selectors.bench_day import PlannedDay
from repairs.pages.stock import lacks_words
from repairs.rules.day import Batch, DayEntry, RankedJob
from repairs.rules.open_jobs import OpenJob
from repairs.rules.waiting import Share
from repairs.rules.words import clock_time, duration, in_ten
from repairs.selectors.planning import JobState
from repairs.selectors.refusals import refusal_text

SHOWN_JOBS = 10  # of the order, and
SHOWN_BATCHES = 4  # of the work to do together, until all is asked for


def bench_day(day: PlannedDay, *, is_whole: bool = False) -> dict[str, Any]:
    """What templates/desk/bench_day.html and the printed sheet show: the first jobs and batches, or all of them."""
    plan, states, at = day.plan, day.states, day.starts_at
    jobs = day.ranked if is_whole else day.ranked[:SHOWN_JOBS]
    batches = day.batches if is_whole else day.batches[:SHOWN_BATCHES]
    planned = {entry.job for entry in plan.entries}
    compared = [one for place, one in enumerate(day.ranked) if place <= len(jobs) or one.job.key in planned]
    why = {one.job.key: why_words(one) for one in compared}
    unplanned = [_ranked_last(job, at=at) for job in day.unplanned]
    named = [f"{one.job.name}: {why[one.job.key]}." for one in day.ranked[: len(jobs) + 1]]
    rows = tuple(
        _row(one, states[one.job.key], place=place, share=day.shares[one.job.key], at=at)
        # this one against the one after it; "" for the last
        | {"why": why[one.job.key], "before_next": " ".join(named[place - 1 : place + 1]) if named[place:] else ""}
        for place, one in enumerate(jobs, start=1)
    )
    return {
        "bench": day.bench,
        "starts_at": at,
        "starts": _clock(at, at=at),
        "hours": day.hours,
        "rows": rows,
        "rows_more": len(day.ranked) - len(rows),
        "count": len(day.ranked),
        "open": len(day.ranked) + len(unplanned),
        "late": tuple(
            {"job": states[one.job.key].job, **_due(one, at=at)}
            for one in [*day.ranked, *unplanned]
            if one.is_late_risk or _is_late(one, at=at)
        ),
        "batches": tuple(_batch(batch, states) for batch in batches),
        "batches_more": len(day.batches) - len(batches),
        "stretches": shown_once([_stretch(entry, day, why=why[entry.job]) for entry in plan.entries], "is_meanwhile"),
        "used": duration(plan.minutes_used),
        "idle": _duration_or_nothing(plan.minutes_idle),
        "if_stuck": _duration_or_nothing(plan.minutes_if_stuck),  # how much more if no try frees its part, or ""
        "saved": _duration_or_nothing(plan.minutes_saved),  # "" where nothing was
        "finished": tuple(states[key].job for key in plan.finished),
        "overnight": tuple(states[key].job for key in plan.overnight),
        # Waiting in all for what is on this bench.
        "students": sum(day.shares[one.job.key].students for one in [*day.ranked, *unplanned]),
        "waits": tuple(_unplanned(one.job, day) | {"parts": lacks_words(one.lacks)} for one in day.waits),
        "refused": tuple(_unplanned(job, day) | {"why": refusal_text(decision)} for job, decision in day.refused),
        "shopping": tuple(
            {states[one.job.key].job.bench_id: states[one.job.key].job.bench for one in day.waits}.values()
        ),
        "left_out": day.left_out,  # open jobs due later than those planned
    }


def _duration_or_nothing(minutes: float) -> str:
    return duration(minutes) if minutes >= 1 else ""


def _row(one: RankedJob, state: JobState, *, place: int, share: Share, at: datetime) -> dict[str, Any]:
    """A job at its place."""
    step = state.plan.next_step
    job, until = state.job, state.resting[0].waits_until if state.is_waiting else None
    return {
        "place": place,
        "job": job,
        "say": step.say if step else gettext("Play-test it"),  # the next step
        "left": duration(one.job.minutes),  # hands-on time to go, on average
        "students": share.students,
        "share": share_words(share, kind=job.instrument.kind.name),  # where that number comes from
        "rests": _clock(until, at=at) if until and until > at else "",  # until when, or ""
        **_due(one, at=at),
    }


def _ranked_last(job: OpenJob, *, at: datetime) -> RankedJob:
    """A job that cannot be done now as one of the order: its date is at risk once it is not done on that day."""
    return RankedJob(job, math.inf, is_late_risk=job.due_on is not None and job.due_on <= timezone.localdate(at))


def _unplanned(job: OpenJob, day: PlannedDay) -> dict[str, Any]:
    """A job that waits for parts, or for which nobody may spend."""
    return {
        "job": day.states[job.key].job,
        "students": day.shares[job.key].students,
        **_due(_ranked_last(job, at=day.starts_at), at=day.starts_at),
    }


def _due(one: RankedJob, *, at: datetime) -> dict[str, Any]:
    """When a job is due, and whether that day has passed or is at risk."""
    due_on = one.job.due_on
    return {
        "due": short_day(due_on) if due_on else "",
        "is_late": _is_late(one, at=at),
        "is_late_risk": one.is_late_risk,
    }


def _is_late(one: RankedJob, *, at: datetime) -> bool:
    return bool(one.job.due_on and one.job.due_on < timezone.localdate(at))


def why_words(one: RankedJob) -> str:
    """Say why a job has its place: who waits, for how much work, and whether the order breaks its date."""
    job = one.job
    who = ngettext("%(count)d student waiting", "%(count)d students waiting", round(job.students)) % {
        "count": job.students
    }
    if job.students <= 0:
        words = gettext("nobody is waiting for it; %(minutes).0f min, shortest first") % {"minutes": job.minutes}
    elif job.minutes:
        served = {"who": who, "minutes": job.minutes, "served": job.students / job.minutes * 60.0}
        words = gettext("%(who)s, %(minutes).0f min: %(served).1f for each bench hour") % served
    else:
        words = gettext("%(who)s, no work left") % {"who": who}
    if job.due_on is not None:
        words += gettext("; due %(day)s") % {"day": short_day(job.due_on)}
    if one.is_late_risk:
        words += gettext("; at risk: done only after %(hours).1f bench hours") % {"hours": one.done_after_minutes / 60}
    return words


def share_words(share: Share, *, kind: str) -> str:
    """Say where the number of waiting students counted for an instrument comes from."""
    if not share.waiting:
        return gettext("No student at its school is waiting for: %(kind)s.") % {"kind": kind}
    waiting = ngettext(
        "%(count)d student at its school is waiting for: %(kind)s.",
        "%(count)d students at its school are waiting for: %(kind)s.",
        share.waiting,
    )
    words = [waiting % {"count": share.waiting, "kind": kind}]
    if share.ready:
        words.append(gettext("%(count)d could take one from store today.") % {"count": share.ready})
    if share.students > 1:
        words.append(
            gettext("There are fewer instruments than students, so it counts for more than the one who gets it.")
        )
    words.append(gettext("Counted for this one: %(count)d.") % {"count": share.students})
    return " ".join(words)


def _batch(batch: Batch, states: dict[str, JobState]) -> dict[str, Any]:
    return {
        "say": batch.say.partition(" (")[0],
        "jobs": tuple(states[key].job for key in batch.jobs),
        "apart": duration(batch.minutes.apart),
        "together": duration(batch.minutes.together),
        "saved": duration(batch.minutes.saved),
    }


def _stretch(entry: DayEntry, day: PlannedDay, *, why: str) -> dict[str, Any]:
    """A line of the day plan: so long on one step of one instrument."""
    at, step = day.starts_at, entry.step
    begins, ends = at + timedelta(minutes=entry.starts_at), at + timedelta(minutes=entry.ends_at)
    return {
        "starts_at": begins,
        "ends_at": ends,
        "is_moment": is_moment(begins, ends),
        "job": day.states[entry.job].job,
        "say": step.say,
        "rests": _rests(entry, at=at),  # until when, or ""
        "why": gettext("same work as the one before: already set up") if entry.is_set_up else why,
        # How often this try frees its part, or "" for what is no try.
        "frees": in_ten(step.frees) if step.frees else "",
        # How often this further try is needed, or "" for what is done anyway.
        "only_if": in_ten(step.chance) if step.chance < 1 else "",
        # How long the further try takes if needed; the plan counts that times its chance.
        "if_needed": duration((entry.ends_at - entry.starts_at) / step.chance) if step.chance < 1 else "",
        "first": ", ".join(step.first),  # what has to be done before the further try
        "is_free": entry.ends_at == entry.starts_at,  # done with work that is planned anyway
        "is_shared": entry.is_set_up,  # the work of the line before, on another instrument
        # Another instrument is waiting (soaking, drying) while this is done.
        "is_meanwhile": _is_meanwhile(entry, day.plan.entries),
    }


def shown_once(lines: Sequence[dict[str, Any]], name: str) -> tuple[dict[str, Any], ...]:
    """What is true of lines that follow one another is said at the first of them."""
    before = [False, *(line[name] for line in lines)]
    return tuple(line | {name: line[name] and not before_it} for line, before_it in zip(lines, before, strict=False))


def is_moment(begins: datetime, ends: datetime) -> bool:
    """Whether both are in the same minute of the clock."""
    return ends - begins < timedelta(minutes=1) and begins.minute == ends.minute


def _clock(moment: datetime, *, at: datetime) -> str:
    return clock_time(timezone.localtime(moment), today=timezone.localdate(at))


def _rests(entry: DayEntry, *, at: datetime) -> str:
    if entry.rests_until <= entry.ends_at + 1:
        return ""
    return _clock(at + timedelta(minutes=entry.rests_until), at=at)


def _is_meanwhile(entry: DayEntry, entries: Sequence[DayEntry]) -> bool:
    """Whether another instrument is waiting during this stretch after an earlier step."""
    return any(other.job != entry.job and other.ends_at <= entry.starts_at < other.rests_until for other in entries)
