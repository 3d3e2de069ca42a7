"""How an instrument leaves, in words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from core.models import Event
from desk.pages.history import sentence
from desk.pages.leaving import disposal_facts, hold_lines, out_rows
from inventory.models import Disposal
from tests.factories import make_instrument
from tests.inventory.leaving_makers import make_disposal
from tests.loans.makers import make_loan


def test_what_is_open_leads_where_it_is_settled_for_who_may(school):
    lent = make_loan(school=school).instrument
    (line,) = hold_lines(lent, may=lambda permission: permission == "desk.take_back")
    assert line["url"] == reverse("desk:take-back", args=[lent.asset_number])
    assert [line["url"] for line in hold_lines(lent, may=lambda _permission: False)] == [""]


@pytest.mark.django_db
def test_of_a_supply_nothing_is_owed_and_it_says_why():
    """2 CFR 200.314(a): of supplies only an award's unused ones count, above $10,000 together."""
    horn = make_instrument(federal_percent=Decimal("33.33"), acquisition_cost_amount=Decimal(3496))
    sold = make_disposal(horn, market_amount=Decimal(6000), is_confirmed=True)
    facts = dict(disposal_facts(sold, may_see_money=True, may_see_papers=True))
    assert facts["Owed to the awarding agency"] == "$0: a supply by its cost"
    assert "Federal threshold" not in facts
    (row,) = out_rows(Disposal.objects.all())
    assert row[14] == 0
    stolen = make_disposal(make_instrument(federal_percent=Decimal(60)), market_amount=Decimal(6000), way="stolen",
                           is_confirmed=True)  # fmt: skip
    assert "Owed to the awarding agency" not in dict(disposal_facts(stolen, may_see_money=True, may_see_papers=True))


@pytest.mark.django_db
def test_what_is_recorded_while_the_file_is_written_moves_no_line(monkeypatch):
    monkeypatch.setattr("desk.pages.leaving.OUT_AT_ONCE", 1)
    numbers = [make_disposal().instrument.asset_number for _ in range(3)]
    rows = out_rows(Disposal.objects.all())
    written = [next(rows)[0]]
    make_disposal()
    written += [row[0] for row in rows]
    assert written == numbers[::-1]


def test_the_history_says_how_it_left():
    assert sentence(Event(act="left_fleet", after={"way": "traded_in"})) == "Out of the fleet: Traded in"
    assert sentence(Event(act="left_fleet", after={})) == "Out of the fleet: "
    assert "not used again" in sentence(Event(act="registered_in_error", after={}))
