"""A reported problem becomes a job where the instrument is here, and word to the family where it is not."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils.translation import override

from desk.services.reports import report_to_family, report_to_job
from inventory.exceptions import RefusedError
from inventory.services.care import answer_report, report_problem
from loans.models import Notice
from repairs.models import Job
from tests.factories import NOW, TODAY, make_bench, make_ready_instrument, new_nonce
from tests.loans.makers import make_loan, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(school):
    return make_bench(school=school)


def reported(instrument):
    return report_problem(instrument=instrument, text="A valve sticks. Call Robin!", at=NOW)


def test_one_that_is_here_goes_to_the_bench_once(school, bench, tech):
    report, nonce = reported(make_ready_instrument(school=school)), new_nonce()
    with override("es-mx"):
        jobs = {report_to_job(report=report, bench=bench, actor=tech, at=NOW, nonce=nonce) for _ in range(2)}
    report.refresh_from_db()
    (job,) = jobs
    assert (report.confirmed_by, job.bench, job.because) == (tech, bench, "Reported on 2026-09-14")
    refused(report_to_job, RefusedError, report=report, bench=bench, actor=tech, at=NOW)
    report.refresh_from_db()


def test_one_that_is_lent_is_asked_for_once_and_is_no_job_yet(school, bench, tech):
    loan = make_loan(school=school)
    report, spare = reported(loan.instrument), make_ready_instrument(school=school)
    told = report_to_family(report=report, bring_on=TODAY + timedelta(days=7), spare=spare, actor=tech, at=NOW)
    assert told.facts == {"bring_on": "2026-09-21", "spare": spare.asset_number, "spare_kind": "trumpet"}
    assert report_to_family(report=report, actor=tech, at=NOW) is None
    assert Notice.objects.count() == 1
    report.refresh_from_db()
    assert report.confirmed_by == tech
    refused(report_to_job, RefusedError, report=report, bench=bench, actor=tech, at=NOW)
    assert not Job.objects.exists()


def test_of_what_came_back_meanwhile_or_was_answered_nobody_is_told(school, tech):
    here = reported(make_ready_instrument(school=school))
    refused(report_to_family, RefusedError, report=here, actor=tech, at=NOW)
    answered = reported(make_loan(school=school).instrument)
    answer_report(report=answered, actor=tech, at=NOW, answer="Oiled.")
    refused(report_to_family, RefusedError, report=answered, actor=tech, at=NOW)
    assert not Notice.objects.exists()
    here.refresh_from_db()
    assert here.confirmed_at is None
