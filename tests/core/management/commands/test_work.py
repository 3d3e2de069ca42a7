"""The worker goes on through a database that is away, and ends when it is told to."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import OperationalError
from django.utils import timezone

from core.forgetting import SEARCHES
from core.management.commands import work
from loans.selectors.papers import due_papers
from tests.loans.makers import make_agreement


class EnoughError(Exception):
    pass


@pytest.fixture
def pauses(monkeypatch):
    """Let the worker pause three times, in no time, and end."""
    taken = []

    def sleep(seconds):
        taken.append(seconds)
        if len(taken) == 3:
            raise EnoughError

    monkeypatch.setattr("core.management.commands.work.time.sleep", sleep)
    monkeypatch.setattr("core.management.commands.work.Worker.configure_signals", lambda _worker: None)
    monkeypatch.setattr("core.management.commands.work.connections.close_all", lambda: None)
    monkeypatch.setattr("core.management.commands.work.open_only_what_is_there", lambda: None)
    return taken


def run():
    with pytest.raises(EnoughError):
        call_command("work")


@pytest.mark.django_db
def test_it_looks_again_and_again_and_sweeps_at_the_start(pauses):
    agreement = make_agreement()
    run()
    agreement.refresh_from_db()
    assert agreement.pdf_sha256
    assert pauses == [work.PAUSE_S] * 3


@pytest.mark.django_db
def test_all_that_waits_is_done_before_the_first_pause(monkeypatch, pauses):
    for _ in range(3):
        make_agreement()
    waiting = []
    paused = work.time.sleep
    monkeypatch.setattr(
        "core.management.commands.work.time.sleep",
        lambda seconds: (waiting.append(due_papers().count()), paused(seconds)),
    )
    assert due_papers().count() == 3
    run()
    assert waiting == [0, 0, 0]


@pytest.mark.django_db
def test_without_a_database_it_waits_and_sweeps_anew(pauses, monkeypatch, caplog):
    tries = []

    def away(*, now):
        tries.append(now)
        if len(tries) == 1:
            raise OperationalError("the server closed the connection")

    monkeypatch.setattr("core.management.commands.work.sweep", away)
    run()
    assert pauses == [work.PAUSE_WITHOUT_DATABASE_S, work.PAUSE_S, work.PAUSE_S]
    assert len(tries) == 2
    assert [record.message for record in caplog.records] == [
        "the worker has no database (OperationalError); it tries again"
    ]


@pytest.mark.django_db
def test_a_clock_set_back_does_not_put_off_the_next_sweep(pauses, monkeypatch):
    swept, hours = [], iter([0, 0, -5, -5, -5])  # the first as the command begins
    start = timezone.now()
    monkeypatch.setattr("core.management.commands.work.sweep", lambda *, now: swept.append(now))
    monkeypatch.setattr("core.management.commands.work.timezone.now", lambda: start + timedelta(hours=next(hours)))
    monkeypatch.setattr("core.management.commands.work.Worker.run", lambda _worker: None)
    run()
    assert swept == [start, start - timedelta(hours=5)]


@pytest.mark.django_db
def test_words_searched_for_are_forgotten_on_the_way():
    session = SessionStore()
    session[SEARCHES] = {"a": ["rosa", 0]}
    session.create()
    call_command("work", once=True)
    assert Session.objects.get(pk=session.session_key).get_decoded()[SEARCHES] == {}
