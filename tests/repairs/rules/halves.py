"""The order of jobs and the first day, each by itself."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from repairs.rules.day import DayPlan, RankedJob, plan_bench
from repairs.rules.effort import SetUp
from repairs.rules.open_jobs import OpenJob


def rank_jobs(
    jobs: Iterable[OpenJob], *, today: date, bench_minutes_per_day: float = 240.0, set_up: SetUp | None = None
) -> tuple[RankedJob, ...]:
    none = SetUp(minutes=0.0, share=0.0)
    return plan_bench(list(jobs), today=today, hours=bench_minutes_per_day / 60.0, set_up=set_up or none).ranked


def plan_day(jobs: Sequence[OpenJob], *, hours: float, set_up: SetUp, today: date | None = None) -> DayPlan:
    return plan_bench([job for job in jobs if job.steps], today=today, hours=hours, set_up=set_up).day
