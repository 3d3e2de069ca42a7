"""A year of band on a small stage: repairs, loans, what comes back, what is reported."""

from __future__ import annotations

import io
from copy import deepcopy
from datetime import timedelta

import pytest
from PIL import Image

from desk.demo import year
from desk.selectors.verifying import differences
from inventory.models import Inspection, Instrument, PlayTest, ProblemReport, Purpose
from loans.models import Agreement, Loan
from repairs.models import Attempt, Job
from tests.desk.demo.stages import make_stage
from tests.factories import TODAY


@pytest.fixture(scope="module")
def whole(shared_rows):
    return make_stage(share=0.15, seen=True)


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def verified():
    return differences()[1]


def test_repairs_take_their_minutes_and_end_with_a_play_test_or_a_reason(stage):
    year.repair_instruments(stage, days=-385, most=3)
    jobs = Job.objects.all()
    assert len(jobs) == 3
    assert all(job.closed_at and (job.play_test or job.ended_because) for job in jobs)
    assert Attempt.objects.exists()
    assert all(attempt.minutes > 0 for attempt in Attempt.objects.all())
    assert not Instrument.objects.filter(whereabouts="on_bench").exists()
    assert verified() == []


def test_instruments_go_out_signed_and_come_back_inspected(stage):
    year.lend_instruments(stage, days=-365, due_days=-150)
    out = Loan.objects.open().count()
    assert out > 5
    assert Agreement.objects.count() == out
    year.return_all_loans(stage, days=-160)
    assert not Loan.objects.open().exists()
    assert Inspection.objects.finished().filter(purpose=Purpose.RETURN).count() == out
    assert verified() == []


def test_some_of_this_years_loans_are_late(stage):
    year.lend_instruments(stage, days=-75, due_days=190, late=1)
    assert Loan.objects.overdue(today=TODAY).count() == 1
    assert Loan.objects.exclude(due_on__lt=TODAY).filter(due_on=TODAY + timedelta(days=190)).exists()


def test_play_tests_of_spring(stage):
    year.play_test_instruments(stage, days=-210)
    results = set(PlayTest.objects.values_list("result", flat=True))
    assert "pass" in results
    assert results <= {"pass", "limits"}


def test_something_is_reported_and_something_is_missing(stage):
    year.lend_instruments(stage, days=-75, due_days=190)
    year.add_reports(stage)
    year.count_short_accessories(stage)
    assert ProblemReport.objects.unanswered().exists()
    assert any(row.is_short for instrument in Instrument.objects.all() for row in instrument.accessories.all())
    assert verified() == []


def test_a_signature_is_a_picture_of_nobodys_name():
    picture = Image.open(io.BytesIO(year.random_signature(make_stage())))
    assert (picture.format, picture.size) == ("PNG", (320, 110))


def test_a_bench_serves_its_own_school(stage):
    assert year.bench_of(stage, stage.schools["TVHS"]) == stage.benches["high-bench"]
    assert year.bench_of(stage, stage.schools["MILL"]) == stage.benches["alder-bench"]
