"""The end of long work: kept a day, said when it stopped, for its person alone. Common practice, no source."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.exceptions import RefusedError
from core.models import LongWork
from core.services.long_work import (
    EVERYWHERE,
    KEPT_FOR,
    STALLED_AFTER,
    UNCLAIMED_AFTER,
    Outcome,
    State,
    delete_old_work,
    delete_work_files,
    fail_stalled_work,
    finish_with,
    finish_work,
    give_up_work,
    may_open,
    state_of,
    unclaimed,
)
from inventory.services.people import remove_role
from tests.core.test_long_work import SEEN, begins, fresh, work
from tests.factories import NOW, make_school

pytestmark = pytest.mark.django_db
begin = begins
LATE = NOW + STALLED_AFTER * 2


def test_what_was_not_heard_of_for_long_is_said_to_have_stopped_and_its_late_end_is_dropped(begin):
    row = begin(at=NOW)
    LongWork.objects.update(started_at=NOW, reported_at=NOW)
    fail_stalled_work(LongWork.objects.all(), at=NOW + STALLED_AFTER)
    assert state_of(fresh(row)) is State.RUNS
    fail_stalled_work(LongWork.objects.all(), at=NOW + STALLED_AFTER + timedelta(seconds=1))
    assert "start it again" in fresh(row).message
    work()
    assert SEEN == []


def stalled(begin, **more):
    """Work that a page took for stalled, and that its person was shown so."""
    row = begin(at=NOW, **more)
    LongWork.objects.update(started_at=NOW, reported_at=NOW)
    fail_stalled_work(LongWork.objects.all(), at=LATE)
    LongWork.objects.update(seen_at=LATE)
    return row


def test_what_was_saved_for_so_long_that_it_seemed_stalled_is_done_and_said_so_unless_somebody_gave_it_up(
    begin, director
):
    row = stalled(begin)
    finish_with(work=row, act=lambda: Outcome(message="Imported: 2 new"), actor=director, at=NOW)
    done = fresh(row)
    assert (state_of(done), done.message, done.seen_at) == (State.DONE, "Imported: 2 new", None)
    assert finish_work(stalled(begin, arguments={"list": 2}), at=LATE, outcome=Outcome(message="Imported 3"))
    row = stalled(begin, arguments={"list": 3})
    own = LongWork.objects.filter(pk=row.pk)
    assert give_up_work(own, at=LATE, message="Nothing was imported.") is None
    with pytest.raises(RefusedError, match="given up"):
        finish_with(work=row, act=Outcome, actor=director, at=NOW)
    assert (state_of(fresh(row)), fresh(row).message) == (State.FAILED, "Nothing was imported.")


def test_a_file_or_a_failure_that_comes_after_a_stall_is_dropped(begin):
    """Somebody may have been erased meanwhile who is in the file."""
    row = stalled(begin)
    assert not finish_work(row, at=LATE, outcome=Outcome(file=io.BytesIO(b"made"), file_name="made.pdf"))
    assert not finish_work(row, at=LATE, is_failed=True, message="Something went wrong.")
    assert "start it again" in fresh(row).message
    assert not fresh(row).file


def test_it_is_said_when_no_worker_takes_it(begin, django_assert_num_queries):
    rows = [begin(at=NOW), begin(at=NOW)]
    late = NOW + UNCLAIMED_AFTER + timedelta(seconds=1)
    assert not unclaimed(rows, at=NOW)
    with django_assert_num_queries(1):
        assert unclaimed(rows, at=late) == {row.pk for row in rows}
    DBTaskResult.objects.update(status=TaskResultStatus.RUNNING, started_at=NOW)  # busy with something else
    assert not unclaimed(rows, at=late)


def test_a_file_is_kept_a_day_and_goes_when_somebody_is_erased(begin):
    row = begin(arguments={"ends": "file"})
    work()
    name = fresh(row).file
    with default_storage.open(name) as file:
        assert file.read() == b"made"
    assert delete_old_work(at=timezone.now()) == 0
    delete_work_files(at=timezone.now())
    assert (default_storage.exists(name), fresh(row).file) == (False, "")
    row = begin(arguments={"ends": "file"})
    work()
    name = fresh(row).file
    LongWork.objects.update(finished_at=timezone.now() - KEPT_FOR - timedelta(minutes=1))
    work()
    assert (default_storage.exists(name), LongWork.objects.exists()) == (False, False)


def test_what_came_of_it_is_for_its_person_while_their_roles_reach_as_far(begin, director, stranger, school):
    row, elsewhere = begin(schools=[school.pk]), begin(arguments={"a": 1}, schools=[school.pk, make_school().pk])
    assert may_open(row=row, user=director)
    assert not may_open(row=row, user=stranger)
    assert not may_open(row=elsewhere, user=director)
    everywhere = begin(arguments={"a": 2}, schools=[EVERYWHERE])
    assert not may_open(row=everywhere, user=director)
    row.arguments["roles"] = ["auditor", "director"]
    assert not may_open(row=row, user=director), "a role that it may have taken is lost"
    row.arguments["roles"] = ["director"]
    remove_role(held=director.staff_roles.get(), actor=None, at=NOW)
    assert not may_open(row=row, user=type(director).objects.get(pk=director.pk))
