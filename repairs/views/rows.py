"""The job a page is about, where the user's role at its school allows the act; else 404."""

from __future__ import annotations

from core.views import StaffRequest, row_or_404
from repairs.models import Job, JobQuerySet


def jobs_for(request: StaffRequest, permission: str) -> JobQuerySet:
    rows = Job.objects.visible_to(request.user, permission)
    return rows.for_table().select_related("clock", "closed_by", "play_test", "cautions_by", "opened_by")


def job_or_404(request: StaffRequest, pk: int, permission: str) -> Job:
    return row_or_404(jobs_for(request, permission), pk=pk)


def job_now(request: StaffRequest, job: Job, permission: str) -> Job:
    """The job as it stands after somebody else may have changed it."""
    return jobs_for(request, permission).filter(pk=job.pk).first() or job
