"""One box finds everything that somebody may see, and nothing else."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from desk.selectors.finding import MOST, find
from inventory.models import Lock
from tests.factories import NOW, make_instrument, make_school, make_student
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job

pytestmark = pytest.mark.django_db


@pytest.fixture
def lent(school, director):
    student = make_student(school=school, name="Robin Lindqvist-Reed", grade="7")
    loan = make_loan(school=school, student=student, actor=director)
    type(loan.instrument).objects.filter(pk=loan.instrument_id).update(asset_number="TV-0019", serial="A 71")
    loan.instrument.refresh_from_db()
    return loan


@pytest.mark.parametrize("typed", ["tv19", "TV-0019", "tv-019", "tv 19", "A 71", "a 71"])
def test_a_number_leads_to_its_instrument(lent, director, typed):
    found = find(director, typed)
    assert found.exact == lent.instrument
    assert found.loans == [lent]


def test_a_number_written_like_others_offers_each(school, director):
    rows = [make_instrument(school=school, asset_number=number) for number in ("TV-19", "TV-0019")]
    make_instrument(school=school, asset_number="TV-0190")
    make_instrument(school=school, asset_number="TV-1019")
    found = find(director, "tv019")
    assert sorted(row.pk for row in found.instruments) == [row.pk for row in rows]
    assert found.exact is None


@pytest.mark.parametrize("typed", ["robin", "REED lind", "lindqvist-reed"])
def test_a_name_finds_the_student_and_their_loans(lent, director, typed):
    found = find(director, typed)
    assert ([one.pk for one in found.students], found.loans, found.exact) == ([lent.student_id], [lent], None)


def test_words_find_instruments_with_their_jobs(school, director, tech):
    job = make_job(school=school, actor=tech)
    found = find(director, f"{job.instrument.kind.name} {job.instrument.maker}")
    assert job.instrument in found.instruments
    assert found.jobs == [job]


def test_the_place_in_a_room_is_found_by_those_who_see_it_and_a_combination_by_nobody(school, director, stranger):
    near = make_instrument(school=school, place="Shelf 3, locker 112")
    far = make_instrument(school=school, place="Shelf 31, locker 12")
    Lock.objects.create(instrument=far, combination="36-14-22")
    for typed, places in {"shelf 3": [near], "LOCKER #112": [near], "locker 112": [near], "shelf": [near, far]}.items():
        assert find(director, typed).instruments == places, typed
        assert find(stranger, typed).instruments == [], typed
    for typed in ("36-14-22", "36 14 22"):
        assert find(director, typed).count == 0, typed


@pytest.mark.parametrize(
    ("who", "students", "loans"),
    [("director", 1, 1), ("auditor", 0, 1), ("tech", 0, 0), ("administrator", 0, 0), ("stranger", 0, 0)],
)
def test_names_are_found_by_those_alone_who_may_see_them(lent, request, who, students, loans):
    found = find(request.getfixturevalue(who), "robin")
    assert (len(found.students), len(found.loans)) == (students, loans)


def test_a_number_finds_the_loan_without_its_name(lent, administrator, stranger):
    found = find(administrator, "tv19")
    assert (found.loans, found.named) == ([lent], frozenset())
    assert find(stranger, "tv19").count == 0


def test_open_loans_come_first_and_erased_students_never(school, director):
    student = make_student(school=school, name="Robin Reed")
    past = make_loan(school=school, student=student, actor=director)
    type(past).objects.filter(pk=past.pk).update(returned_at=NOW + timedelta(days=100), returned_to=director)
    now = make_loan(school=school, student=student, actor=director, at=NOW + timedelta(days=150))
    assert find(director, "robin").loans == [now, past]
    type(student).objects.filter(pk=student.pk).update(erased_at=NOW)
    assert find(director, "robin").count == 0


@pytest.mark.parametrize("typed", ["", " ", "r", "%", "_", "' OR 1=1 --", "\u202e", "x" * 100])
def test_nothing_and_signs_find_nobody(lent, director, typed):
    assert find(director, typed).students == []


def test_the_cost_does_not_grow_with_what_is_found(school, director, lent):
    def cost():
        with CaptureQueriesContext(connection) as caught:
            found = find(director, "reed")
            assert [str(row.school) for row in found.loans]
        return len(caught), found

    cost()  # reads the roles
    few, _ = cost()
    for number in range(MOST + 3):
        student = make_student(school=school, name=f"Reed {number}")
        make_loan(school=school, student=student, actor=director)
    many, found = cost()
    assert few == many <= 16
    assert (len(found.students), len(found.loans)) == (MOST, MOST)
    assert found.more == {"students", "loans"}


def test_another_schools_room_or_words_lead_nowhere(director):
    make_instrument(school=make_school(), maker="Vale")
    assert find(director, "vale").count == 0
