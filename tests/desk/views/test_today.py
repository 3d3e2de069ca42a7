"""The first page after log-in, for each role."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.events import head_of_log
from inventory.models import Role
from inventory.selectors.school_sums import forget_sums
from inventory.services.care import report_problem
from repairs.services.stock import receive_stock
from tests.factories import NOW, make_instrument, make_ready_instrument, make_user, new_nonce
from tests.loans.makers import make_loan
from tests.repairs.makers import LEAKING_CORK, make_job
from tests.repairs.money_makers import make_item

URL = "/"


@pytest.mark.parametrize("role", ["director", "tech", "auditor", "administrator"])
def test_each_role_has_a_first_page_even_in_an_empty_school(client, role, request):
    client.force_login(request.getfixturevalue(role))
    assert client.get(URL).status_code == 200


def test_somebody_with_two_roles_gets_both_sections(client, school):
    client.force_login(make_user(Role.DIRECTOR, Role.TECH, school=school))
    context = client.get(URL).context
    assert "director" in context
    assert "tech" in context
    assert "auditor" not in context


def test_somebody_without_a_role_is_refused(client, school):
    client.force_login(make_user(school=school))
    assert client.get(URL).status_code == 403


def test_reports_of_another_school_are_not_shown(client, school, stranger):
    report_problem(instrument=make_ready_instrument(school=school), text="Unmistakable words.", at=NOW)
    client.force_login(stranger)
    assert "Unmistakable" not in client.get(URL).text


def test_a_director_reads_what_was_reported(client, school, director):
    report_problem(instrument=make_ready_instrument(school=school), text="Unmistakable words.", at=NOW)
    client.force_login(director)
    assert "Unmistakable" in client.get(URL).text


@pytest.mark.parametrize("role", ["director", "tech", "auditor", "administrator"])
def test_the_page_costs_the_same_for_few_and_for_many(client, school, director, role, request):
    def fill():
        instrument = make_instrument(school=school)
        report_problem(instrument=instrument, text="A key hangs.", at=NOW)
        make_loan(school=school, actor=director)

    def cost():
        forget_sums()  # few and many alike are counted
        with CaptureQueriesContext(connection) as captured:
            assert client.get(URL).status_code == 200
        return len(captured)

    fill()
    client.force_login(request.getfixturevalue(role))
    client.get(URL)
    few = cost()
    for _ in range(5):
        fill()
    assert cost() <= few <= 27  # five of them: losses, links denied, balances, offers, and counts that are due


def test_a_tech_reads_what_the_bench_lacks_and_finds_the_shopping_list(client, school, tech):
    job = make_job(school=school, findings=[LEAKING_CORK])
    item = make_item(bench=job.bench, code="water_key_corks")
    client.force_login(tech)
    page = " ".join(client.get(URL).text.split())
    assert reverse("repairs:shopping", args=[job.bench.code]) in page
    assert f"1 of the water-key corks</a> for {job.instrument.asset_number}" in page
    receive_stock(item=item, quantity=Decimal(1), nonce=new_nonce(), actor=tech, at=NOW)
    assert "Not in stock" not in client.get(URL).text


def test_the_auditor_reads_the_end_of_the_log_to_print_it(client, auditor, school):
    client.force_login(auditor)
    assert "Nothing has been recorded yet." in client.get("/").content.decode()
    make_ready_instrument(school=school)
    page = client.get("/").content.decode()
    assert f"<code>{head_of_log()}</code>" in page
    assert "the last of September 14, 2026" in page
