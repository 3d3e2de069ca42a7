from datetime import timedelta

import pytest
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from desk.selectors.gauges import gauges
from loans.models import Agreement
from tests.factories import NOW
from tests.loans.makers import make_agreement

pytestmark = pytest.mark.django_db


def test_an_empty_queue_is_all_zeros():
    found = gauges(at=NOW)
    assert set(found.tasks) == {status.value.lower() for status in TaskResultStatus}
    assert (sum(found.tasks.values()), found.oldest_task_s, found.papers_due) == (0, 0.0, 0)


def test_a_paper_that_waits_is_counted_and_so_is_how_long(django_assert_num_queries):
    agreement = make_agreement()
    Agreement.objects.filter(pk=agreement.pk).update(pdf_sha256="")
    DBTaskResult.objects.all().delete()
    task = DBTaskResult.objects.create(
        task_path="loans.tasks.make_paper", args_kwargs={"args": [agreement.pk], "kwargs": {}}, backend_name="default",
        queue_name="default", run_after=NOW,
    )  # fmt: skip
    DBTaskResult.objects.filter(pk=task.pk).update(enqueued_at=NOW - timedelta(minutes=2))
    with django_assert_num_queries(3):
        found = gauges(at=NOW)
    assert (found.tasks["ready"], found.oldest_task_s, found.papers_due) == (1, 120.0, 1)
