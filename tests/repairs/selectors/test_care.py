"""Due care read from what was registered, lent, noted and done in jobs."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import Instrument, Whereabouts
from repairs.models import Attempt, Outcome
from repairs.selectors.care import care_day, care_facts, care_overview, cared_for
from tests.factories import NOW, TODAY, make_ready_instrument, new_nonce
from tests.loans.makers import make_loan
from tests.repairs.care_makers import make_care
from tests.repairs.makers import make_job

LONG_AGO = NOW - timedelta(days=1200)


def facts_of(horn: Instrument, *, now=NOW):
    return care_facts([Instrument.objects.get(pk=horn.pk)], now=now)[0]


def test_what_was_noted_counts_and_the_latest_day_wins(school):
    horn = make_ready_instrument(school=school)
    for days in (40, 3, 90):
        make_care(instrument=horn, done_on=TODAY - timedelta(days=days))
    assert facts_of(horn).done == {"piston_oil": TODAY - timedelta(days=3)}


@pytest.mark.parametrize(
    ("outcome", "counts"), [(Outcome.DONE, True), (Outcome.SKIPPED, False), (Outcome.NOT_RIGHT, False)]
)
def test_the_same_work_in_a_job_counts_when_it_was_done(school, outcome, counts):
    job = make_job(school=school)
    Attempt.objects.create(
        job=job, nonce=new_nonce(), step_key="soap_bath_brass:::", method="soap_bath_brass", outcome=outcome,
        ended_at=NOW, actor=job.opened_by,
    )  # fmt: skip
    assert ("bath" in facts_of(job.instrument).done) is counts


def test_days_with_a_student_within_the_year_say_how_much_it_is_used(school):
    loan = make_loan(at=NOW)
    horn = loan.instrument
    assert facts_of(horn, now=NOW + timedelta(days=70)).days_out == 70
    assert facts_of(horn, now=NOW + timedelta(days=500)).days_out == 365


def test_gone_lost_and_parts_horns_ask_for_nothing(school, tech):
    horns = [make_ready_instrument(school=school) for _ in range(4)]
    Instrument.objects.filter(pk=horns[0].pk).update(whereabouts=Whereabouts.GONE)
    Instrument.objects.filter(pk=horns[1].pk).update(whereabouts=Whereabouts.NOT_FOUND)
    Instrument.objects.filter(pk=horns[2].pk).update(is_parts_horn=True)
    assert list(cared_for(tech)) == [horns[3]]


def test_class_sets_stand_in_the_order_of_what_is_longest_overdue(school, tech):
    make_ready_instrument(school=school, at=LONG_AGO)
    for _ in range(2):
        make_ready_instrument(school=school, kind_code="cornet", at=LONG_AGO - timedelta(days=200))
    make_ready_instrument(school=school, kind_code="tuba", at=NOW)
    page = care_overview(list(cared_for(tech).for_table()), now=NOW)
    assert [(one.kind.code, one.horns_due) for one in page.sets] == [("cornet", 2), ("trumpet", 1)]
    assert (page.due, page.horns, page.fine) == (3, 4, 1)
    days = [line.oldest_on for line in page.sets[0].lines]
    assert days == sorted(days)


def test_a_care_day_lists_due_horns_and_what_doing_them_together_saves(school, tech):
    horns = [make_ready_instrument(school=school, at=LONG_AGO) for _ in range(3)]
    make_care(instrument=horns[0], code="bath")
    rows = list(cared_for(tech).for_table())
    day = care_day(rows, school=school, kind=rows[0].kind, now=NOW)
    bath = next(task for task in day.tasks if task.interval.code == "bath")
    assert [one.instrument.pk for one in bath.horns] == [horns[1].pk, horns[2].pk]
    assert [one.instrument.pk for one in bath.later] == [horns[0].pk]
    assert bath.minutes.saved > 0
    assert bath.minutes.apart - bath.minutes.together == pytest.approx(bath.minutes.saved)
    assert [care.instrument_id for care in day.lately] == [horns[0].pk]
    assert (day.horns, day.away) == (3, 0)


def test_nothing_is_due_on_a_horn_registered_today(school, tech):
    make_ready_instrument(school=school, at=NOW)
    assert care_overview(list(cared_for(tech).for_table()), now=NOW).sets == ()


@pytest.mark.parametrize("count", [1, 6])
def test_reading_care_takes_three_queries_however_many_horns(school, tech, count):
    for _ in range(count):
        make_ready_instrument(school=school, at=LONG_AGO)
    rows = list(cared_for(tech).for_table())
    with CaptureQueriesContext(connection) as caught:
        care_overview(rows, now=timezone.now())
    assert len(caught) == 3
