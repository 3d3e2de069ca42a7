"""Students without an instrument against the instruments that could go out."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from desk.selectors.waiting import short_of_instruments, students_waiting
from repairs.pages.job import job_page
from repairs.selectors.planning import job_state, plan_for_instrument
from tests.factories import NOW, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_loan, make_seat
from tests.repairs.makers import STUCK, fresh, make_job

pytestmark = pytest.mark.django_db


def test_students_count_at_their_school_for_their_kind(school):
    make_student(school=school, wants_kind="tuba")
    make_student(school=school, wants_kind="tuba")
    make_student(school=make_school(code="ELSE"), wants_kind="tuba")
    make_student(school=school)
    assert students_waiting({(school.pk, "tuba"), (school.pk, "flute")}) == {(school.pk, "tuba"): 2}


def test_a_kind_is_short_until_there_is_a_free_instrument_for_each(school):
    group = (school.pk, "trumpet")
    make_student(school=school, wants_kind="trumpet")
    assert short_of_instruments({group}) == {group}
    make_ready_instrument(school=school, kind_code="flute")
    assert short_of_instruments({group}) == {group}
    make_ready_instrument(school=school)
    assert short_of_instruments({group}) == frozenset()
    make_student(school=school, wants_kind="trumpet")
    assert short_of_instruments({group}) == {group}


def test_an_instrument_that_is_out_is_not_free_and_who_has_one_does_not_wait(school):
    group = (school.pk, "trumpet")
    make_loan(school=school, student=make_student(school=school, wants_kind="tuba"))
    make_student(school=school, wants_kind="trumpet")
    assert short_of_instruments({group, (school.pk, "tuba")}) == {group}


def test_who_needs_one_for_two_seats_and_waits_besides_counts_once(school):
    group = (school.pk, "tuba")
    student = make_student(school=school, wants_kind="tuba")
    for _ in range(2):
        make_seat(student=student, kind_code="tuba")
    make_seat(school=school, kind_code="tuba")
    make_seat(school=school, kind_code="tuba", is_own=True)
    make_seat(school=school)
    assert students_waiting({group}) == {group: 2}
    assert short_of_instruments({group}) == {group}


def test_however_many_groups_are_asked_for_it_is_two_queries_and_one_where_nobody_waits(school):
    groups = {(school.pk, kind) for kind in ("tuba", "flute", "trumpet")}
    with CaptureQueriesContext(connection) as queries:
        short_of_instruments(groups)
    assert len(queries) == 1
    for kind in ("tuba", "flute", "trumpet"):
        make_student(school=school, wants_kind=kind)
    with CaptureQueriesContext(connection) as queries:
        short_of_instruments(groups)
    assert len(queries) == 2


def soak_of(plan):
    """The try that has to rest longest."""
    return max((rung for ladder in plan.ladders for rung in ladder.ahead), key=lambda rung: rung.wait_h)


def test_days_of_waiting_weigh_in_the_tries_of_an_instrument_a_student_waits_for(school, tech):
    job = make_job(school=school, findings=[STUCK], actor=tech)
    before = soak_of(job_state(fresh(job)).plan)
    assert job_page(job_state(fresh(job)), user=tech, now=NOW)["waiting_words"] == ""
    make_student(school=school, wants_kind=job.instrument.kind_code)
    state = job_state(fresh(job))
    after = next(
        rung for ladder in state.plan.ladders for rung in ladder.ahead if rung.step_key == before.step_key
    )  # fmt: skip
    assert state.is_waited_for
    assert before.wait_h > 0
    # A dollar a day of 24 hours, the district's default.
    assert after.cost_amount - before.cost_amount == pytest.approx(before.wait_h / 24, abs=Decimal("0.01"))
    assert "A student is waiting" in job_page(job_state(fresh(job)), user=tech, now=NOW)["waiting_words"]
    alone = soak_of(plan_for_instrument(job.instrument))
    assert alone.cost_amount == after.cost_amount


def test_the_worth_page_knows_that_a_student_waits(client, school, director):
    job = make_job(school=school, findings=[STUCK])
    make_student(school=school, wants_kind=job.instrument.kind_code)
    client.force_login(director, backend="core.access.RoleBackend")
    address = f"/bench/worth/{job.instrument.asset_number}/"
    assert b"as if nobody is waiting" in client.get(address).content
    assert b"as if a student is waiting" in client.get(address, {"waiting": "0"}).content
