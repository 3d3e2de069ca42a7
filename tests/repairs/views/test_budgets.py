"""The budgets' pages, and the orders as a file."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from repairs.models import RepairBudget
from tests.factories import make_school
from tests.repairs.money_makers import make_budget, make_order, make_stuck_instrument

pytestmark = pytest.mark.django_db
BUDGETS = reverse("repairs:budgets")


def test_a_director_adds_and_changes_a_budget_of_the_own_school(client, director, school):
    client.force_login(director)
    today = timezone.localdate()
    given = {"fund": "Band <b>fund</b>", "begins_on": today, "ends_on": today + timedelta(days=99), "amount": "500"}
    refused = client.post(reverse("repairs:add-budget"), given | {"school": make_school().pk})
    assert refused.status_code == 422
    assert client.post(reverse("repairs:add-budget"), given | {"school": school.pk}).headers["Location"] == BUDGETS
    page = client.get(BUDGETS).text
    assert "Band &lt;b&gt;fund&lt;/b&gt;" in page
    assert "$500 left" in page
    budget = RepairBudget.objects.get()
    change = reverse("repairs:change-budget", args=[budget.pk])
    assert client.post(change, given | {"amount": "650"}).headers["Location"] == BUDGETS
    assert RepairBudget.objects.get().amount == 650
    assert client.get(reverse("repairs:change-budget", args=[make_budget(make_school()).pk])).status_code == 404


def test_an_auditor_reads_and_a_tech_is_not_shown(client, auditor, tech, school):
    budget = make_budget(school)
    client.force_login(auditor)
    page = client.get(BUDGETS).text
    assert "Band fund" in page
    assert reverse("repairs:change-budget", args=[budget.pk]) not in page
    client.force_login(tech)
    assert client.get(BUDGETS).status_code == 403


def test_the_page_costs_the_same_for_one_budget_and_for_ten(client, director, school, django_assert_max_num_queries):
    client.force_login(director)
    for number in range(10):
        make_budget(school, fund=f"Fund {number}")
    client.get(BUDGETS)
    with django_assert_max_num_queries(8):
        client.get(BUDGETS)


def table(answer):
    return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))


def test_the_file_has_the_own_orders_between_two_days_and_no_formula(client, director, school):
    client.force_login(director)
    mine = make_order(instrument=make_stuck_instrument(school=school), purchase_order="=cmd()")
    make_order()
    address = reverse("repairs:order-books")
    answer = client.get(address)
    assert answer.headers["Content-Type"].startswith("text/csv")
    assert [(row["instrument"], row["purchase_order"]) for row in table(answer)] == [
        (mine.instrument.asset_number, "'=cmd()")
    ]
    asked = timezone.localdate(mine.asked_at)
    spans = [(asked, asked, 1), (asked + timedelta(days=1), "", 0), ("", asked - timedelta(days=1), 0), ("x", "", 1)]
    spans.append((date.min, date.max, 1))
    for first, last, count in spans:
        assert len(table(client.get(address, {"first": first, "last": last}))) == count


def test_an_order_says_its_budget_and_who_approves(client, tech, director, school):
    poor = make_budget(school, amount=Decimal(10))
    order = make_order(instrument=make_stuck_instrument(school=school), budget=poor, purchase_order="PO-5")
    client.force_login(tech)
    page = client.get(reverse("repairs:order", args=[order.pk])).text
    assert "It may cost $80, and its budget has $10 left. A director or an administrator approves it." in page
    assert "Purchase order PO-5" in page
    client.force_login(director)
    assert "its budget has $10 left" in client.get(reverse("desk:today")).text
    approve = reverse("repairs:order-approve", args=[order.pk])
    assert "its budget has $10 left" in client.get(approve).text
    client.post(approve, {"amount": "80", "budget": poor.pk})
    assert "Approved up to $80" in client.get(reverse("repairs:order", args=[order.pk])).text
