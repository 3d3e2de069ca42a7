from __future__ import annotations

from datetime import timedelta

import pytest

from repairs.models import Job
from repairs.services.jobs import give_up_job, prove_job
from repairs.tables import ClosedJobTable
from tests.factories import NOW
from tests.repairs.makers import make_job, work_to_the_proof

ORDERABLE = [name for name, column in ClosedJobTable.base_columns.items() if column.orderable is not False]


@pytest.fixture
def closed(school, tech):
    given_up = make_job(school=school, actor=tech)
    give_up_job(job=given_up, because="Waits for money.", actor=tech, at=NOW + timedelta(hours=3))
    proved = work_to_the_proof(make_job(school=school, actor=tech, bench=given_up.bench))
    prove_job(job=proved, result="pass", actor=tech, at=NOW + timedelta(hours=4))
    return Job.objects.for_table().select_related("play_test")


@pytest.mark.parametrize("column", ORDERABLE)
def test_every_column_sorts_both_ways(closed, column):
    for order in (column, f"-{column}"):
        assert len(list(ClosedJobTable(closed, order_by=order).rows)) == 2


def test_each_job_says_how_it_ended(closed):
    ended = {row.get_cell("result") for row in ClosedJobTable(closed).rows}
    assert ended == {"Given up: Waits for money.", "Pass"}
