"""The register says who has what to those who may see names at that school, and to nobody else."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Role
from inventory.selectors.holders import holders
from tests.factories import TODAY, make_school, make_student, make_user
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db
LIST = reverse("inventory:list")


@pytest.fixture
def loans(school):
    students = [make_student(school=school, name=f"Robin Reed {n}", grade=grade) for n, grade in enumerate("7108")]
    return [make_loan(school=school, student=student) for student in students]


def test_names_and_grades_only_where_they_may_be_seen(school, director, administrator, tech, loans):
    keys = [loan.instrument_id for loan in loans]
    names = {key: holder.name for key, holder in holders().of(director, keys).items()}
    assert names == {loan.instrument_id: loan.student.name for loan in loans}
    assert {(holder.name, holder.grade) for holder in holders().of(administrator, keys).values()} == {("", "")}
    assert holders().of(tech, keys) == {}
    elsewhere = make_user(Role.DIRECTOR, school=make_school())
    assert (holders().of(elsewhere, keys), holders().grades(elsewhere, today=TODAY)) == ({}, [])


def test_the_grades_offered_are_those_that_have_something_out_in_their_order(school, director, administrator, loans):
    make_student(school=school, grade="9")
    assert holders().grades(director, today=TODAY) == ["0", "1", "7", "8"]
    assert holders().grades(administrator, today=TODAY) == []


def test_a_grade_is_asked_for_by_those_who_see_names_alone(client, director, administrator, loans):
    client.force_login(director)
    page = client.get(f"{LIST}?grade=7").text
    assert [loan.instrument.asset_number in page for loan in loans] == [True, False, False, False]
    assert "grade 7 " in " ".join(page.partition("chips-in-force")[2].split()), "the filter in force says what it is"
    client.force_login(administrator)
    page = client.get(f"{LIST}?grade=7").text
    assert 'name="grade"' not in page
    assert all(loan.instrument.asset_number in page for loan in loans)


def test_a_row_says_who_has_it_and_since_when_it_is_late(client, director, administrator, tech, loans):
    loan = loans[0]
    type(loan).objects.filter(pk=loan.pk).update(
        lent_on=TODAY - timedelta(days=900), due_on=TODAY - timedelta(days=800)
    )
    client.force_login(director)
    page = client.get(LIST).text
    assert "With Robin Reed 0, grade 7</a>" in page
    assert page.count("days late") == 1
    assert "stays in" not in page
    for user in (administrator, tech):
        client.force_login(user)
        page = client.get(LIST).text
        assert "With a student" in page
        assert "Robin Reed" not in page
        assert "stays in" not in page


def test_who_has_what_costs_one_query_for_the_page(client, director, school, loans):
    client.force_login(director)

    def cost():
        client.get(LIST)
        with CaptureQueriesContext(connection) as caught:
            client.get(LIST)
        return len(caught)

    before = cost()
    for _ in range(6):
        make_loan(school=school)
    assert cost() == before <= 14
