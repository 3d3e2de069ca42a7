"""The worker computes stored state again: after an act, when a figure's day has come, and once only."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from core.models import Event
from desk.tasks import BECAUSE, queue_due_recompute, queue_recompute, reckon
from inventory.models import Instrument
from inventory.selectors.figures import enter, is_recompute_due
from inventory.services.figures import set_figures
from tests.factories import make_district, make_ready_instrument

pytestmark = pytest.mark.django_db


def put(days=0, **values):
    now = timezone.now()
    day = timezone.localdate(now) + timedelta(days=days)
    return set_figures(values=values, effective_on=day, actor=None, at=now)


def queued():
    return DBTaskResult.objects.filter(task_path=reckon.module_path)


def work():
    call_command("work", once=True, stdout=io.StringIO())


def test_setting_a_figure_queues_it_in_the_same_act_and_the_worker_does_it():
    before = make_ready_instrument().ready_until
    put(inspection_valid_days="400")
    put(pitch_limit_cents="20")
    assert queued().count() == 1
    work()
    assert Instrument.objects.get().ready_until == before + timedelta(days=35)
    assert not is_recompute_due(at=timezone.now())
    assert Event.objects.filter(act="refreshed", after={"because": BECAUSE, "instruments": 1}).count() == 1


def test_what_nothing_stored_hangs_on_queues_nothing():
    make_district()
    put(bench_rate_amount="40")
    put(days=3, inspection_valid_days="400")
    assert queued().count() == 0
    work()
    assert queued().count() == 0


def test_a_day_that_has_come_is_found_by_the_sweep():
    make_district()
    put(days=3, inspection_valid_days="400")
    enter(timezone.now() + timedelta(days=2))
    assert queue_due_recompute() == 0
    enter(timezone.now() + timedelta(days=3))
    assert (queue_due_recompute(), queue_due_recompute()) == (1, 0)


def test_one_that_waits_is_enough():
    assert (queue_recompute(), queue_recompute(), queued().count()) == (1, 0, 1)


def test_it_does_nothing_when_all_follows():
    make_ready_instrument()
    queue_recompute()
    events = Event.objects.count()
    work()
    assert Event.objects.count() == events
    assert not queued().filter(status="READY").exists()
