"""How an instrument leaves, in words."""

from __future__ import annotations

from django.urls import reverse

from core.models import Event
from desk.pages.history import sentence
from desk.pages.leaving import hold_lines
from tests.loans.makers import make_loan


def test_what_is_open_leads_where_it_is_settled_for_who_may(school):
    lent = make_loan(school=school).instrument
    (line,) = hold_lines(lent, may=lambda permission: permission == "desk.take_back")
    assert line["url"] == reverse("desk:take-back", args=[lent.asset_number])
    assert [line["url"] for line in hold_lines(lent, may=lambda _permission: False)] == [""]


def test_the_history_says_how_it_left():
    assert sentence(Event(act="left_fleet", after={"way": "traded_in"})) == "Out of the fleet: Traded in"
    assert sentence(Event(act="left_fleet", after={})) == "Out of the fleet: "
    assert "not used again" in sentence(Event(act="registered_in_error", after={}))
