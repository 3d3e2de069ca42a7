"""Long work: begun once, done by the worker, its end kept for whoever began it. Common practice, no source."""

from __future__ import annotations

import io
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.db import OperationalError
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.exceptions import RefusedError
from core.long_work import MOST_ATTEMPTS, queue_work, retry_work
from core.models import LongWork
from core.progress import report_progress
from core.services.long_work import Outcome, State, state_of
from tests.factories import NOW

pytestmark = pytest.mark.django_db
DOES = f"{__name__}.does"
SEEN: list[tuple[int, int, str]] = []


def does(row, at):
    """What the worker does here: says how far it is, then as it is asked to."""
    report_progress(2, 5, phase="reading")
    fresh = LongWork.objects.get(pk=row.pk)
    SEEN.append((fresh.done, fresh.total, fresh.phase))
    match row.arguments.get("ends"):
        case "refused":
            raise RefusedError("The file is not there.")
        case "broken":
            raise ValueError("Ana Student")
        case "no database":
            raise OperationalError
        case "file":
            return Outcome(file=io.BytesIO(b"made"), file_name="made.pdf")
    return Outcome(message="All read.", url="/there/")


@pytest.fixture(name="begin")
def begins(director):
    SEEN.clear()

    def begin(at=None, **given):
        return queue_work(
            function=DOES, title="Reading", person=director, at=at or timezone.now(), permission="inventory.view_instrument",
            **given,
        )  # fmt: skip

    return begin


def work():
    call_command("work", once=True, stdout=io.StringIO())


def fresh(row):
    return LongWork.objects.get(pk=row.pk)


def test_it_runs_once_however_often_it_is_begun_and_says_how_far_it_is(begin, monkeypatch):
    monkeypatch.setattr(
        "core.long_work.connection", SimpleNamespace(in_atomic_block=False)
    )  # the tests' own transaction
    first = begin()
    assert begin().pk == first.pk
    assert begin(arguments={"list": 2}).pk != first.pk
    assert state_of(first) is State.WAITS
    work()
    assert SEEN == [(2, 5, "reading")] * 2
    done = fresh(first)
    assert (state_of(done), done.message, done.result_url) == (State.DONE, "All read.", "/there/")
    assert begin().pk != first.pk, "what is done may be asked for once more"


@pytest.mark.parametrize(
    ("ends", "words"),
    [("refused", "The file is not there."), ("broken", "Something went wrong. The server's log says what.")],
)
def test_a_refusal_says_why_and_an_error_says_nothing_of_the_rows(begin, caplog, ends, words):
    row = begin(arguments={"ends": ends})
    work()
    assert (state_of(fresh(row)), fresh(row).message) == (State.FAILED, words)
    assert "Ana" not in caplog.text
    again = retry_work(fresh(row), at=timezone.now())
    assert (again.pk != row.pk, again.arguments) == (True, {"ends": ends, "roles": ["director"]})
    assert "test_long_work.py:" in caplog.text or ends == "refused", "where it broke is in the log"


def test_one_whose_worker_was_killed_is_done_by_the_next_but_not_by_a_third(begin):
    row = begin()
    DBTaskResult.objects.update(status=TaskResultStatus.RUNNING)  # as a killed worker leaves it
    LongWork.objects.update(started_at=NOW, reported_at=timezone.now(), attempts=MOST_ATTEMPTS - 1)
    work()
    assert state_of(fresh(row)) is State.DONE
    row = begin()
    LongWork.objects.filter(pk=row.pk).update(attempts=MOST_ATTEMPTS)
    work()
    assert (state_of(fresh(row)), len(SEEN)) == (State.FAILED, 1)


def test_without_a_database_its_end_is_left_open(begin):
    row = begin(arguments={"ends": "no database"})
    work()
    assert state_of(fresh(row)) is State.RUNS
