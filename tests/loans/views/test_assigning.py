"""The pages of an assignment as a director goes through them."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import Event
from loans.models import Assignment
from tests.factories import make_ready_instrument
from tests.loans.makers import make_assignment, make_loan, make_seat

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client, director):
    client.force_login(director, backend="core.access.RoleBackend")
    return client


def sent(assignment, **more):
    return {"seen": Assignment.objects.get(pk=assignment.pk).revision, **more}


def test_from_the_proposal_to_the_list(page, school):
    seat = make_seat(school=school, kind_code="trumpet")
    other = make_seat(school=school, kind_code="trumpet")
    instrument = make_ready_instrument(school=school)
    make_ready_instrument(school=school)
    answer = page.post(reverse("loans:assignments"), {"school": school.pk})
    assignment = Assignment.objects.get()
    address = reverse("loans:assignment", args=[assignment.pk])
    assert answer.url == address
    assert "2 of 2 students get one" in page.get(address).text
    line = assignment.lines.get(student=seat.student)
    theirs = assignment.lines.get(student=other.student)
    there = reverse("loans:assignment-line", args=[assignment.pk, line.pk])
    page.post(there, sent(assignment, instrument=theirs.instrument_id))
    line.refresh_from_db()
    assert (line.instrument, line.is_fixed) == (theirs.instrument, True)
    page.post(there, sent(assignment, let_go="1", instrument=line.instrument_id))
    page.post(there, sent(assignment, instrument=line.instrument_id))
    line.refresh_from_db()
    assert line.is_fixed
    page.post(address, sent(assignment, instrument=instrument.pk, leave_out="1"))
    assert "Left out" in page.get(address).text
    page.post(address, sent(assignment, instrument=instrument.pk))
    page.post(address, sent(assignment))
    page.post(address, sent(assignment, lock="1"))
    assert "Locked on" in page.get(address).text
    paper = page.post(reverse("loans:hand-out-list", args=[assignment.pk]))
    assert paper.headers["Content-Type"] == "application/pdf"
    assert Event.objects.newest_first()[0].act == "hand_out_list_printed"
    lend = page.get(reverse("desk:lend-this", args=[line.instrument.asset_number])).text
    assert f"By the locked assignment it goes to {line.student}" in lend
    start = page.get(reverse("desk:lend"), {"student": line.student_id}).text
    assert f"By the locked assignment: {line.instrument.asset_number}" in start
    page.post(address, sent(assignment, drop="1"))
    assert "Dropped" in page.get(address).text


def test_what_went_elsewhere_is_shown_before_anything_else(page, school):
    assignment = make_assignment(school=school)
    make_loan(instrument=assignment.lines.get().instrument)
    shown = page.get(reverse("loans:assignment", args=[assignment.pk])).text
    assert "No longer right" in shown
    assert "It is now with somebody else." in shown


def test_who_comes_second_reads_that_it_was_changed_and_what_is_so_now(page, school):
    assignment = make_assignment(school=school)
    address = reverse("loans:assignment", args=[assignment.pk])
    old = sent(assignment)
    page.post(address, old)
    answer = page.post(address, old | {"lock": "1"})
    assert answer.status_code == 422
    assert "Somebody else has changed this assignment in the meantime" in answer.text
    assert 'name="seen" value="2"' in answer.text
    assert Assignment.objects.get().state == "proposed"


def test_nobody_to_serve_is_said_on_the_page(page, school):
    answer = page.post(reverse("loans:assignments"), {"school": school.pk})
    assert answer.status_code == 422
    assert "Nobody at this school needs an instrument" in answer.text


def test_a_page_costs_the_same_for_one_line_and_for_many(page, school):
    def cost():
        assignment = make_assignment(school=school)
        with CaptureQueriesContext(connection) as seen:
            assert page.get(reverse("loans:assignment", args=[assignment.pk])).status_code == 200
        return len(seen)

    one = cost()
    for kind in ("trumpet", "flute", "tuba"):
        make_seat(school=school, kind_code=kind)
        make_ready_instrument(school=school, kind_code=kind)
    assert cost() == one
