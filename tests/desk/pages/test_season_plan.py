"""The words of a season plan."""

from __future__ import annotations

import re
from collections import Counter
from datetime import timedelta
from decimal import Decimal

import pytest

from core.charts import draw_chart
from desk.pages.season_plan import frontier, season_page
from desk.rules.season_plan import Budget, BudgetKind, Budgets, More, Season, more_of, plan_season
from desk.selectors.season_plan import DistrictSeason, Terms, season_of
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument
from tests.loans.makers import make_ensemble, make_seat
from tests.repairs.makers import STUCK, make_job
from tests.repairs.money_makers import make_order, make_refusal

pytestmark = pytest.mark.django_db


def page_of(school, *, budgets: Budgets | None = None) -> dict:
    found = season_of([school], Terms(today=TODAY, needed_by=TODAY + timedelta(days=90), budgets=budgets or Budgets()))
    plan = plan_season(found.season)
    more = list(more_of(found.season, plan))
    return season_page(found, plan, more=more, made_at=NOW, needed_by=TODAY + timedelta(days=90))


def test_ensembles_come_by_priority_with_what_each_lacks(school):
    for priority, name in ((2, "Band B"), (1, "Wind")):
        make_seat(place=make_ensemble(school=school, name=name, priority=priority), kind_code="trumpet")
    make_ready_instrument(school=school)
    page = page_of(school, budgets=Budgets(purchase_amount=Decimal(0)))
    assert [(one["name"], one["seated"], one["wanted"]) for one in page["ensembles"]] == [
        ("Wind", 1, 1),
        ("Band B", 0, 1),
    ]
    assert (page["seated"], page["wanted"], page["short"], page["cost"]) == (1, 2, 1, "$0")


def test_a_repair_leads_to_its_job_or_to_where_it_is_decided(school, tech):
    ensemble = make_ensemble(school=school)
    for _ in range(2):
        make_seat(place=ensemble, kind_code="trumpet")
    job = make_job(school=school, actor=tech)
    stuck = make_instrument(school=school)
    make_inspection(instrument=stuck, findings=[STUCK], actor=tech)
    page = page_of(school, budgets=Budgets(shop_amount=Decimal(0), purchase_amount=Decimal(0)))
    found = {one["number"]: (one["url"], one["begun"]) for bench in page["benches"] for one in bench["lines"]}
    assert found == {
        job.instrument.asset_number: (f"/bench/{job.pk}/", "on the bench"),
        stuck.asset_number: (f"/bench/worth/{stuck.asset_number}/", ""),
    }


def test_what_is_left_says_why_in_a_sentence(school, tech):
    make_seat(place=make_ensemble(school=school), kind_code="trumpet")
    stuck = make_instrument(school=school)
    make_inspection(instrument=stuck, findings=[STUCK], actor=tech)
    refusal = make_refusal(instrument=stuck)
    new = make_instrument(school=school)
    asked = make_order(instrument=make_instrument(school=school), expected_high_amount=None)
    page = page_of(school)
    assert {one["why"]: [line["number"] for line in one["instruments"]] for one in page["left"]} == {
        "Spending on it was refused": [refusal.instrument.asset_number],
        "Not inspected yet: inspect it so it can be counted": [new.asset_number],
        "Its shop order has no price yet": [asked.instrument.asset_number],
    }


def test_what_more_would_fill_is_said_by_priority(school):
    make_seat(place=make_ensemble(school=school, priority=3), kind_code="trumpet")
    page = page_of(school, budgets=Budgets(purchase_amount=Decimal("600.00")))
    assert [(one["what"], one["seats"], one["by_priority"]) for one in page["more"]] == [
        ("$100 more for new instruments", 1, "+1 seat of priority 3"),
        ("$500 more for new instruments", 1, "+1 seat of priority 3"),
    ]
    assert [(one["used"], one["limit"]) for one in page["pots"]] == [("$0", ""), ("$0", ""), ("$0", "$600")]


def test_a_chart_shows_where_an_amount_takes_more_seats_than_it_fills():
    """Two hours seat one of priority 1 in the place of two of priority 2: one seat fewer, and still the better plan."""
    budget = Budget(BudgetKind.HOURS, "elm")
    found = DistrictSeason(Season(()), {}, {}, {}, {}, {"elm": "Elm bench"}, Counter())
    plan = plan_season(found.season)
    steps = ((Decimal(2), ((1, 1), (2, -2))), (Decimal(5), ((1, 1), (2, 1))))
    (chart,) = frontier(found, [More(budget, more, plan, by_priority) for more, by_priority in steps])
    assert list(chart.series[0].values) == [0, -1, 2]
    assert "5 more hours: Elm bench would fill 2 seats more. Higher priorities come first" in chart.summary
    assert re.findall(r"<text[^>]*>([+-]?\d)</text>", draw_chart(chart)) == ["-1", "0", "+1", "+2"]


def test_what_is_bought_for_a_concert_band_is_of_its_make(school):
    for level in ("concert", "first_year"):
        make_seat(place=make_ensemble(school=school, level=level), kind_code="trumpet")
    assert [(one["kind"], one["each"]) for one in page_of(school)["bought"]] == [
        ("Trumpet", "$650"),
        ("Trumpet, intermediate", "$1,700"),
    ]
