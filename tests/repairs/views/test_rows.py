from __future__ import annotations

from datetime import timedelta

import pytest
from django.http import Http404
from django.test import RequestFactory

from inventory.models import Role, StaffRole
from repairs.services.jobs import give_up_job
from repairs.views.rows import job_now, job_or_404, jobs_for
from tests.factories import NOW, make_school
from tests.repairs.makers import make_job

LATER = NOW + timedelta(hours=3)


def request_of(user):
    request = RequestFactory().get("/")
    request.user = user
    return request


def test_a_role_that_only_reads_here_does_not_work_here(school, tech, auditor):
    job = make_job(school=school, actor=tech)
    StaffRole.objects.create(user=auditor, role=Role.TECH, school=make_school())
    request = request_of(auditor)
    assert jobs_for(request, "repairs.view_job").get() == job
    with pytest.raises(Http404):
        job_or_404(request, job.pk, "repairs.do_step")


def test_the_job_is_read_anew(school, tech):
    job = make_job(school=school, actor=tech)
    give_up_job(job=job, because="Waits.", actor=tech, at=LATER)
    assert job.closed_at is None
    assert job_now(request_of(tech), job, "repairs.do_step").closed_at == LATER
