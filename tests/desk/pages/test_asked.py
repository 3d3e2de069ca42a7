"""What somebody asked, as their first page tells it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from desk.pages.asked import own_lines
from inventory.models import Role
from repairs.services.worth import settle_decision
from tests.factories import NOW, make_user
from tests.repairs.money_makers import make_decision, make_refusal, make_stuck_instrument

pytestmark = pytest.mark.django_db


def ask(school, tech):
    return make_decision(make_stuck_instrument(school=school), cost=180.0, actor=tech)


def test_each_line_says_the_answer_and_by_whom_and_leads_to_its_page(school, tech):
    refused, waiting, approved = make_refusal(actor=tech), ask(school, tech), ask(school, tech)
    director = make_user(Role.DIRECTOR, school=school, name="Robin Hale")
    approved = settle_decision(decision=approved, is_approved=True, actor=director, at=NOW)
    lines = own_lines([refused, waiting, approved])
    assert [line["title"] for line in lines] == [
        "Not approved: repair here for up to $180",
        "Waiting for approval: repair here",
        "Approved: repair here",
    ]
    assert "Buy one." in lines[0]["text"]
    assert lines[1]["text"].startswith("since Sep 14: ")
    assert lines[2]["text"] == "by Robin Hale on Sep 14"
    assert [line["is_answered"] for line in lines] == [True, False, True]
    assert [line.get("action", "") for line in lines] == ["", "", "Go on"]
    assert lines[0]["url"] == reverse("repairs:worth", args=[refused.instrument.asset_number])
