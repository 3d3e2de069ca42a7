"""What was acknowledged before cautions were kept one by one stays on record."""

from __future__ import annotations

import pytest

from repairs.models import CautionRead
from tests.factories import NOW
from tests.migrating import migrate_to, newest_afterward
from tests.repairs.makers import make_job

BEFORE = ("repairs", "0008_clocks_of_steps")


@pytest.mark.django_db(transaction=True)
def test_cautions_acknowledged_as_a_whole_are_kept_for_no_hazard(request, school, tech):
    newest = newest_afterward(request)
    read = make_job(school=school, actor=tech)
    unread = make_job(school=school, actor=tech, bench=read.bench)
    migrate_to(BEFORE).get_model("repairs", "Job").objects.filter(pk=read.pk).update(
        cautions_at=NOW, cautions_by_id=tech.pk
    )
    migrate_to(*newest)
    row = CautionRead.objects.get()
    assert (row.job_id, row.hazard, row.version, row.at, row.actor_id) == (read.pk, "", "", NOW, tech.pk)
    jobs = migrate_to(BEFORE).get_model("repairs", "Job").objects
    assert dict(jobs.values_list("pk", "cautions_by")) == {read.pk: tech.pk, unread.pk: None}
