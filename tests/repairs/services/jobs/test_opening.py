"""From the store to the bench; each refusal leaves every row as it was."""

from __future__ import annotations

import pytest

from core.models import Event
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Instrument, Role, Whereabouts
from repairs.exceptions import JobOpenError
from repairs.models import Job
from repairs.services.jobs import (
    open_job,
)
from tests.factories import make_ready_instrument, make_school, make_user
from tests.repairs.makers import (
    LATER,
    make_job,
    make_school_bench,
    refused,
)
from tests.repairs.services.race import at_once


def test_opening_takes_the_horn_from_the_store_to_the_bench(school, tech):
    job = make_job(school=school, actor=tech)
    assert job.instrument.pk
    assert Instrument.objects.get(pk=job.instrument_id).whereabouts == Whereabouts.ON_BENCH
    assert Event.objects.filter(act="job_opened").count() == 1


def test_a_second_job_on_the_same_horn_is_refused(school, tech):
    job = make_job(school=school, actor=tech)
    refused(JobOpenError, open_job, instrument=job.instrument, bench=job.bench, actor=tech, at=LATER)


def test_a_horn_that_is_not_in_store_is_refused(school, tech):
    horn = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=horn.pk).update(whereabouts=Whereabouts.NOT_FOUND)
    bench = make_school_bench(school)
    refused(InstrumentUnavailableError, open_job, instrument=horn, bench=bench, actor=tech, at=LATER)


@pytest.mark.django_db(transaction=True)
def test_two_who_take_the_same_horn_at_once_get_one_job(transactional_db):
    school = make_school()
    tech, other = (make_user(Role.TECH, school=school) for _ in range(2))
    horn, bench = make_ready_instrument(school=school), make_school_bench(school)
    answers = at_once(
        lambda: open_job(instrument=horn, bench=bench, actor=tech, at=LATER),
        lambda: open_job(instrument=horn, bench=bench, actor=other, at=LATER),
    )
    assert sorted(isinstance(answer, Job) for answer in answers) == [False, True]
    assert Job.objects.count() == 1
