"""The queue: what a killed worker left runs again, and waits grow to a limit."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django_tasks_db.models import DBTaskResult

from core.queue import LONGEST_WAIT, register_sweep, sweep, wait_after
from loans.tasks import make_paper
from tests.factories import NOW


@pytest.fixture
def task(db):
    make_paper.enqueue(agreement=0)
    return DBTaskResult.objects.get()


def test_waits_grow_to_the_longest_and_stay_there():
    waits = [wait_after(failures) for failures in range(1, 40)]
    assert [wait.total_seconds() for wait in waits[:3]] == [60, 240, 960]
    assert waits == sorted(waits)
    assert waits[-1] == LONGEST_WAIT


def test_a_task_that_was_running_runs_again(task):
    task.claim("killed")
    assert sweep(now=NOW) == 1
    assert DBTaskResult.objects.ready().count() == 1


def test_what_is_done_is_forgotten_after_a_week(task):
    task.set_successful(None)
    done = DBTaskResult.objects.get().finished_at
    sweep(now=done + timedelta(days=6))
    assert DBTaskResult.objects.count() == 1
    sweep(now=done + timedelta(days=8))
    assert not DBTaskResult.objects.exists()


def test_a_sweep_named_twice_runs_once(monkeypatch):
    monkeypatch.setattr("core.queue._sweeps", [])
    for _ in range(2):
        register_sweep("loans.tasks.queue_due_papers")
    from core import queue

    assert queue._sweeps == ["loans.tasks.queue_due_papers"]
