"""Pages about students."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from loans.models import Student
from tests.factories import make_school, make_student
from tests.loans.makers import make_loan

TYPED = {
    "name": "Quinn <b>Abernathy</b>",
    "grade": "6",
    "level": "first_year",
    "guardian_name": "Lee",
    "guardian_contact": "555-0188",
}


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def page_of(student, name="loans:student"):
    return reverse(name, args=[student.pk])


def test_a_student_is_added_and_shown_as_text(desk):
    answer = desk.post(reverse("loans:add-student"), TYPED, follow=True)
    assert "Quinn &lt;b&gt;Abernathy&lt;/b&gt;" in answer.text
    assert "555-0188" in answer.text


def test_what_is_refused_stays_typed(desk):
    answer = desk.post(reverse("loans:add-student"), TYPED | {"grade": ""})
    assert answer.status_code == 422
    assert "Quinn &lt;b&gt;" in answer.text
    assert not Student.objects.exists()


def test_a_change_is_kept(desk, school):
    student = make_student(school=school)
    desk.post(page_of(student, "loans:edit-student"), TYPED)
    assert Student.objects.get().guardian_contact == "555-0188"


@pytest.mark.parametrize("name", ["loans:student", "loans:edit-student", "loans:student-left", "loans:erase-student"])
def test_another_schools_student_does_not_exist_here(desk, name):
    other = make_student(school=make_school())
    assert desk.get(page_of(other, name)).status_code == 404
    assert desk.post(page_of(other, name), TYPED).status_code in {404, 405}
    assert Student.objects.get(pk=other.pk).name == other.name


def test_the_page_shows_every_loan_of_the_student(desk, school, director):
    loan = make_loan(school=school, actor=director)
    assert loan.instrument.asset_number in desk.get(page_of(loan.student)).text


def test_left_and_back_again(desk, school):
    student = make_student(school=school)
    desk.post(page_of(student, "loans:student-left"), {"left_on": "2026-09-01"})
    assert Student.objects.get().left_on.isoformat() == "2026-09-01"
    desk.post(page_of(student, "loans:student-left"), {"back": "1"})
    assert Student.objects.get().left_on is None


def test_a_day_of_leaving_that_is_none_is_asked_again(desk, school):
    assert desk.post(page_of(make_student(school=school), "loans:student-left"), {"left_on": ""}).status_code == 422


def test_erasing_asks_first_and_refuses_while_something_is_out(desk, school, director):
    loan = make_loan(school=school, actor=director)
    assert "cannot be undone" in desk.get(page_of(loan.student, "loans:erase-student")).text
    answer = desk.post(page_of(loan.student, "loans:erase-student"))
    assert answer.status_code == 422
    assert "Take the instrument back first" in answer.text
    free = make_student(school=school)
    desk.post(page_of(free, "loans:erase-student"))
    assert desk.get(page_of(free)).status_code == 404


def test_the_list_costs_the_same_for_one_student_and_for_twenty(desk, school):
    make_student(school=school)
    url = reverse("loans:students")
    desk.get(url)
    with CaptureQueriesContext(connection) as one:
        desk.get(url)
    for _ in range(19):
        make_student(school=school)
    with CaptureQueriesContext(connection) as twenty:
        desk.get(url)
    assert len(twenty) == len(one) <= 12
