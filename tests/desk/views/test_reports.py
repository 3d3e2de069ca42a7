"""The page of a reported problem: who has it and how to call, for those who may know; then one tap."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from inventory.services.care import report_problem
from loans.models import Notice
from repairs.models import Job
from tests.factories import NOW, make_bench, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import make_loan

pytestmark = [pytest.mark.django_db, pytest.mark.page]


def client_of(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def page_of(instrument) -> str:
    report = report_problem(instrument=instrument, text="A <valve> sticks.", at=NOW)
    return reverse("desk:reported", args=[report.pk])


def test_the_director_may_call_the_tech_may_not_and_either_tells_the_family(school, director, tech):
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed", guardian_contact="555-0147")
    loan = make_loan(school=school, student=student, actor=director)
    url = page_of(loan.instrument)
    page = client_of(director).get(url).text
    assert "A &lt;valve&gt; sticks." in page
    assert all(words in page for words in ("Robin Reed", "Gale Reed", "555-0147", "Confirm and tell the family"))
    page = client_of(tech).get(url).text
    assert "Confirm and tell the family" in page
    assert "Reed" not in page
    assert "555-0147" not in page
    swap = reverse("desk:swap", args=[loan.instrument.asset_number])
    assert swap not in client_of(director).get(url).text, "no spare"
    spare = make_ready_instrument(school=school)
    assert swap in client_of(director).get(url).text
    assert swap not in client_of(tech).get(url).text
    sent = {"nonce": str(new_nonce()), "bring_on": "2000-01-01", "spare": spare.pk}
    assert client_of(tech).post(url, sent).status_code == 422
    assert not Notice.objects.exists()
    told = client_of(tech).post(url, sent | {"bring_on": ""}, follow=True).text
    assert "The family will be asked to bring it in." in told
    assert "Letter, waiting to be printed" in told
    assert "Confirm and tell" not in told
    assert Notice.objects.get().facts["spare"] == spare.asset_number
    assert "It is here: take it back" in client_of(director).get(url).text


def test_one_that_is_here_goes_to_the_bench_in_one_tap(school, tech):
    bench, instrument = make_bench(school=school), make_ready_instrument(school=school)
    url = page_of(instrument)
    assert "Confirm and open a job" in client_of(tech).get(url).text
    done = client_of(tech).post(url, {"nonce": str(new_nonce()), "bench": bench.pk})
    assert done["Location"] == reverse("repairs:job", args=[Job.objects.get().pk])
    assert "Confirm and open a job" not in client_of(tech).get(url).text
