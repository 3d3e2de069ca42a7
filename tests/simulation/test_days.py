"""The best line of a drawn day is no worse than any that is tried."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import pytest

from repairs.rules.day import setup_minutes
from repairs.rules.open_jobs import OpenJob
from tests.simulation.days import SET_UP, TODAY, Best, best_line, draw_day, gap_of, late_in_vain

pytestmark = pytest.mark.drill


def one_step_jobs(generator: random.Random) -> list[OpenJob]:
    jobs, _ = draw_day(generator, most_steps=1)
    return [replace(job, due_on=None) for job in jobs[:5]]


def waiting_in(order) -> float:
    clock, last, total = 0.0, "", 0.0
    for job in order:
        (step,) = job.steps
        start = max(clock, job.rests_minutes)
        saved = setup_minutes(step, set_up=SET_UP) if start == clock and step.method == last else 0.0
        clock, last = start + step.minutes - saved, step.method
        total += job.students * clock
    return total


def test_the_best_line_is_that_of_all_orders():
    generator = random.Random("orders")
    for _ in range(8):
        jobs = one_step_jobs(generator)
        best = min(waiting_in(order) for order in permutations(jobs))
        assert best_line(jobs, hours=100.0) == Best(0, pytest.approx(best))


def test_a_bound_leaves_only_what_is_better():
    jobs, hours = draw_day(random.Random(4), most_steps=1)
    best = best_line(jobs, hours=hours)
    assert best_line(jobs, hours=hours, bound=best) is None
    assert best_line(jobs, hours=hours, bound=Best(best.late, best.waiting + 1)) == best


def test_a_late_job_that_could_be_in_time_is_counted(monkeypatch):
    """With the dates hidden from the plan the day is planned late; every line tells how often in vain."""
    days = [draw_day(random.Random(number), most_steps=1) for number in range(12)]
    assert sum(late_in_vain(jobs, hours=hours) for jobs, hours in days) == 0
    assert sum(gap_of(jobs, hours=hours).late for jobs, hours in days) == 0
    monkeypatch.setattr(
        "repairs.rules.sequence.bench.Bench.last_days", property(lambda bench: [None] * len(bench.wanted))
    )
    assert sum(late_in_vain(jobs, hours=hours) for jobs, hours in days) > 0


def test_dates_are_drawn_from_today_on():
    jobs, _ = draw_day(random.Random(1))
    assert all(job.due_on is None or job.due_on >= TODAY for job in jobs)


def test_days_that_one_line_mended_shortly_does_not_solve():
    """Mended from one line, shorter or by three jobs at a time, each had a job late in vain or waits 13% too long."""
    for number in (91, 185):
        jobs, hours = draw_day(random.Random(f"dates {number}"), most_steps=2)
        assert late_in_vain(jobs, hours=hours) == 0
    for number, steps in ((7, 3), (21, 3), (838, 2)):
        jobs, hours = draw_day(random.Random(f"gap {number}"), most_steps=steps)
        assert gap_of(jobs, hours=hours).share <= 0.1
