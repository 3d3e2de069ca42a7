"""The jobs of a season plan's repairs, opened together or not at all."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event
from desk.services.season_plan import open_planned_jobs
from inventory.models import Instrument, Whereabouts
from repairs.models import Job
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_school, new_nonce
from tests.loans.makers import make_loan
from tests.repairs.makers import STUCK, make_school_bench

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


def make_stuck(school) -> Instrument:
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK])
    return Instrument.objects.get(pk=instrument.pk)


def refused(actor, *instruments: Instrument) -> str:
    """Return the refusal's words; fail unless nothing was written."""
    jobs, events = Job.objects.count(), Event.objects.count()
    with pytest.raises(RefusedError) as refusal:
        open_planned_jobs(instruments=instruments, due_on=None, actor=actor, at=LATER)
    assert (Job.objects.count(), Event.objects.count()) == (jobs, events)
    return str(refusal.value)


def test_each_goes_to_the_first_bench_of_its_school(school, director):
    other = make_school()
    benches = {place.pk: make_school_bench(place) for place in (school, other)}
    make_school_bench(school)
    rows = [make_stuck(school), make_stuck(other), make_stuck(school)]
    due = TODAY + timedelta(days=40)
    open_planned_jobs(instruments=rows, due_on=due, actor=director, at=LATER)
    found = {job.instrument_id: (job.bench, job.due_on, job.because) for job in Job.objects.select_related("bench")}
    assert found == {row.pk: (benches[row.school_id], due, "Season plan") for row in rows}
    assert set(Instrument.objects.values_list("whereabouts", flat=True)) == {Whereabouts.ON_BENCH}
    assert Event.objects.filter(act="job_opened").count() == 3


def test_one_that_cannot_go_to_the_bench_stops_all_and_is_named(school, director):
    make_school_bench(school)
    fine, out = make_stuck(school), make_loan(school=school).instrument
    assert refused(director, fine, out).startswith(f"{out.asset_number}: ")


def test_a_school_without_a_bench_is_said(school, director):
    stuck = make_stuck(school)
    assert refused(director, stuck) == f"{stuck.asset_number}: its school has no bench. Nothing was changed."


def test_none_at_all_is_said(director):
    assert "Make the plan again" in refused(director)


def test_the_same_form_posted_again_opens_nothing_more(school, director):
    make_school_bench(school)
    stuck, nonce = make_stuck(school), new_nonce()
    for _ in range(2):
        open_planned_jobs(instruments=[stuck], due_on=None, actor=director, at=LATER, nonce=nonce)
    assert Job.objects.count() == 1
