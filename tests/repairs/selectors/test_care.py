"""Due care read from what was registered, lent, noted and done in jobs."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.catalog.load import catalog
from inventory.models import Custody, Instrument, Role, Whereabouts
from inventory.services.registering import change_instrument
from loans.services import undo_loan
from repairs.models import Attempt, CareNext
from repairs.rules.facts import Outcome
from repairs.selectors.care import care_day, care_differences, care_facts, care_overview, cared_for, used_much
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_user, new_nonce
from tests.loans.makers import make_loan
from tests.repairs.care_makers import make_care
from tests.repairs.makers import make_job

LONG_AGO = NOW - timedelta(days=1200)


def facts_of(instrument: Instrument):
    return care_facts([Instrument.objects.get(pk=instrument.pk)])[0]


def overview(user, *, today=TODAY, **chosen):
    return care_overview(get_user_model().objects.get(pk=user.pk), today=today, **chosen)


def test_what_was_noted_counts_and_the_latest_day_wins(school):
    instrument = make_ready_instrument(school=school)
    for days in (40, 3, 90):
        make_care(instrument=instrument, done_on=TODAY - timedelta(days=days))
    assert facts_of(instrument).done == {"piston_oil": TODAY - timedelta(days=3)}


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


@pytest.mark.parametrize(("days", "is_much"), [(59, False), (60, True), (90, True), (395, True), (396, False)])
def test_sixty_days_with_a_student_within_the_year_are_much_use(school, director, days, is_much):
    """Out for ninety days from the day it was lent: of them the last year holds 59, 60, 90, 60 and 59."""
    loan = make_loan(at=NOW)
    Custody.objects.filter(instrument=loan.instrument, until=None).update(until=NOW + timedelta(days=min(days, 90)))
    days_in_year = min(days, 90) - max(days - 365, 0)
    assert is_much is (days_in_year >= 60)
    found = used_much(now=NOW + timedelta(days=days), schools=[loan.instrument.school_id])
    assert [row["instrument"] for row in found] == [loan.instrument.pk] * is_much


def test_a_loan_that_never_left_the_room_is_no_use(school, director):
    loan = make_loan(at=NOW)
    later = NOW + timedelta(days=90)
    undo_loan(loan=loan, left_the_room=False, actor=director, at=later)
    assert not used_much(now=later, schools=[loan.instrument.school_id]).exists()


def test_gone_lost_retired_and_parts_instruments_ask_for_nothing(school, tech):
    instruments = [make_ready_instrument(school=school, at=LONG_AGO) for _ in range(5)]
    Instrument.objects.filter(pk=instruments[0].pk).update(whereabouts=Whereabouts.GONE)
    Instrument.objects.filter(pk=instruments[1].pk).update(whereabouts=Whereabouts.NOT_FOUND)
    Instrument.objects.filter(pk=instruments[2].pk).update(is_parts_instrument=True)
    Instrument.objects.filter(pk=instruments[3].pk).update(is_retired=True)
    assert list(cared_for(tech)) == [instruments[4]]
    (care_set,) = overview(tech).sets
    assert (care_set.instruments, care_set.instruments_due) == (1, 1)


def test_class_sets_stand_in_the_order_of_what_is_longest_overdue(school, tech):
    make_ready_instrument(school=school, at=LONG_AGO)
    for _ in range(2):
        make_ready_instrument(school=school, kind_code="cornet", at=LONG_AGO - timedelta(days=200))
    make_ready_instrument(school=school, kind_code="tuba", at=NOW)
    page = overview(tech)
    assert [(one.kind.code, one.instruments_due) for one in page.sets] == [("cornet", 2), ("trumpet", 1)]
    assert (page.due, page.instruments, page.page.paginator.count) == (3, 4, 2)
    assert set(page.kinds) == {"cornet", "trumpet", "tuba"}
    days = [line.oldest_on for line in page.sets[0].lines]
    assert days == sorted(days)


def test_a_care_day_lists_due_instruments_and_what_doing_them_together_saves(school, tech):
    instruments = [make_ready_instrument(school=school, at=LONG_AGO) for _ in range(3)]
    make_care(instrument=instruments[0], code="bath")
    rows = cared_for(tech)
    day = care_day(rows, school=school, kind=rows[0].kind, now=NOW)
    bath = next(task for task in day.tasks if task.interval.code == "bath")
    assert [one.instrument.pk for one in bath.instruments] == [instruments[1].pk, instruments[2].pk]
    assert [one.instrument.pk for one in bath.later] == [instruments[0].pk]
    assert bath.minutes.saved > 0
    assert bath.minutes.apart - bath.minutes.together == pytest.approx(bath.minutes.saved)
    assert [care.instrument_id for care in day.lately] == [instruments[0].pk]
    assert (day.instruments, day.due, day.away) == (3, 3, 0)


def test_nothing_is_due_on_an_instrument_registered_today(school, tech):
    make_ready_instrument(school=school, at=NOW)
    assert overview(tech).sets == ()


def test_sums_are_kept_until_something_happens_at_the_school(school):
    tech = make_user(Role.TECH)
    instrument = make_ready_instrument(school=school, at=LONG_AGO)
    make_ready_instrument(school=make_school(), at=LONG_AGO)
    assert overview(tech).due == 2
    with CaptureQueriesContext(connection) as caught:
        assert overview(tech).due == 2
    assert not [one for one in caught if "carenext" in one["sql"]]
    for one in CareNext.objects.filter(instrument=instrument):
        make_care(instrument=instrument, code=one.code)
    assert overview(tech).due == 1
    assert overview(tech, today=TODAY + timedelta(days=1200)).due == 2


def test_an_instrument_that_moved_counts_at_its_new_school_alone(school, director):
    tech = make_user(Role.TECH)
    instrument = make_ready_instrument(school=school, at=LONG_AGO)
    other = make_school()
    assert overview(tech, school=school).instruments == 1
    change_instrument(instrument=instrument, school=other, room=None, actor=director, at=NOW)
    assert (overview(tech, school=school).instruments, overview(tech, school=other).instruments) == (0, 1)


@pytest.mark.parametrize("count", [1, 6])
def test_reading_care_takes_as_many_queries_however_many_instruments(school, tech, count):
    for _ in range(count):
        make_ready_instrument(school=school, at=LONG_AGO)
    with CaptureQueriesContext(connection) as caught:
        overview(tech)
    assert len(caught) == 9  # the user, their roles and schools, the stamps, five sums


def test_a_page_holds_twelve_class_sets(school, tech):
    for kind in list(catalog().kinds)[:14]:
        make_ready_instrument(school=school, kind_code=kind, at=LONG_AGO)
    first, second = overview(tech), overview(tech, number="2")
    assert (len(first.sets), first.page.paginator.count) == (12, len(first.sets) + len(second.sets))
    assert first.due == second.due


def test_stored_days_that_do_not_follow_are_named(school):
    instrument = make_ready_instrument(school=school)
    assert list(care_differences()) == []
    row = CareNext.objects.filter(instrument=instrument)[0]
    CareNext.objects.filter(pk=row.pk).update(much_on=TODAY)
    ((pk, said),) = care_differences()
    assert pk == instrument.pk
    assert said.startswith(f"{instrument.asset_number}: care {row.code} is kept as")
    CareNext.objects.filter(pk=row.pk).delete()
    assert "is kept as None" in next(care_differences())[1]


def test_what_the_catalog_no_longer_has_is_in_no_class_set(school, tech):
    lost, instrument = (make_ready_instrument(school=school, at=LONG_AGO) for _ in range(2))
    Instrument.objects.filter(pk=lost.pk).update(kind_code="no_such_kind")
    CareNext.objects.create(instrument=instrument, code="no_such_care", much_on=TODAY, idle_on=TODAY)
    page = overview(tech)
    assert [(one.kind.code, one.instruments) for one in page.sets] == [("trumpet", 1)]
    assert "no_such_care" not in {line.interval.code for line in page.sets[0].lines}
