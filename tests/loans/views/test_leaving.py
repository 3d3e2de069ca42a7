"""The pages of the turn of the year."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from loans.models import Student
from tests.factories import make_school, make_student
from tests.loans.makers import make_loan, make_seat

GRADES, LEAVERS = reverse("loans:grades"), reverse("loans:leavers")


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def posted(page, **typed):
    form = page.context["form"]
    sent = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in (sent | typed).items() if value is not None}


def test_grades_go_up_once_and_come_back(desk, school):
    young = make_student(school=school, grade="6", name="A <b>B</b>")
    kept, old = make_student(school=school, grade="6"), make_student(school=school, grade="8")
    page = desk.get(GRADES)
    assert "&lt;b&gt;" in page.text
    done = desk.post(GRADES, posted(page, stay=[kept.pk]), follow=True)
    assert "1 went up, 1 left" in done.text
    found = {one.pk: (one.grade, one.left_on is None) for one in Student.objects.all()}
    assert found == {young.pk: ("7", True), kept.pk: ("6", True), old.pk: ("8", False)}
    again = desk.post(GRADES, posted(page, nonce=""))
    assert (again.status_code, "already" in again.text) == (422, True)
    back = desk.post(reverse("loans:undo-grades", args=[done.context["done"].pk]), follow=True)
    assert "everybody is back in their earlier grade" in back.text
    young.refresh_from_db()
    assert young.grade == "6"


def test_who_has_left_by_grade_and_class_with_what_is_out(desk, school):
    make_student(school=make_school(), name="Elsewhere Person")
    loan = make_loan(school=school, student=make_student(school=school, grade="8"))
    seat = make_seat(school=school)
    page = desk.get(LEAVERS, {"grade": "8", "all": "1"})
    assert f"has {loan.instrument.asset_number}" in page.text
    assert ("Elsewhere" in page.text, len(page.context["lines"])) == (False, 1)
    assert page.context["checked"] == {str(loan.student_id)}
    assert [one.pk for one, _ in desk.get(LEAVERS, {"period": seat.period_id}).context["lines"]] == [seat.student_id]
    assert desk.post(LEAVERS, {"left_on": timezone.localdate()}).status_code == 422
    both = {"students": [loan.student_id, seat.student_id], "left_on": timezone.localdate()}
    done = desk.post(LEAVERS, both, follow=True).text
    assert "1 student has left" in done
    assert "1 has an instrument out" in done
    assert "Leaving since" in desk.get(reverse("loans:student", args=[loan.student_id])).text


@pytest.mark.parametrize("address", [GRADES, LEAVERS])
def test_a_page_costs_the_same_for_one_and_for_many(desk, school, address):
    costs = []
    for count in (1, 12):
        for _ in range(count):
            make_loan(school=school, student=make_student(school=school))
        with CaptureQueriesContext(connection) as queries:
            desk.get(address)
        costs.append(len(queries))
    assert costs[0] == costs[1]
