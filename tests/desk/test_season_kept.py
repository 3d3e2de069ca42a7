"""What was found for a large season comes back for that season alone. Common practice, no source."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from decimal import Decimal

import pypdfium2
import pytest
from django.core.management import call_command
from django.urls import reverse

from core.models import LongWork
from desk.rules.season_plan import Budgets, Purchase, Season, Seats
from desk.rules.season_plan.model import build_model
from desk.rules.season_plan.result import plan_season
from desk.rules.season_plan.solve import solve
from desk.season_kept import HOLDS_FOR, PLAN, keep_solution, mark_of, solution_for
from tests.desk.views.test_season_plan import ASKED, make_band
from tests.factories import NOW, make_director
from tests.loans.makers import make_ensemble, make_seat

pytestmark = pytest.mark.django_db
SEASON = Season(
    (Seats("band", "trumpet", 3),),
    purchases=(Purchase("new", "trumpet", Decimal("200.00"), levels=frozenset({"student", "step_up", "pro"})),),
    budgets=Budgets(purchase_amount=Decimal("500.00")),
)


def test_the_same_plan_is_made_from_what_was_kept_and_none_for_another_season(director):
    work = LongWork.objects.create(
        function=PLAN, title="Plan", language="en", dedupe_key="m", person=director, queued_at=NOW
    )
    keep_solution(work=work, season=SEASON, solution=solve(build_model(SEASON), seconds=5.0))
    work.refresh_from_db()
    found = solution_for(SEASON, work=work)
    assert found is not None
    plan = plan_season(SEASON, solution=found, seconds=0.0)
    assert (plan.seated, plan.is_proven) == (2, True)
    assert plan == plan_season(SEASON)
    assert json.dumps(work.arguments).count("trumpet") == 0, "numbers alone are kept"
    richer = replace(SEASON, budgets=Budgets(purchase_amount=Decimal("600.00")))
    assert solution_for(richer, work=work) is None
    work.arguments = {}
    assert solution_for(SEASON, work=work) is None


@pytest.mark.parametrize("kind", [set, frozenset])
def test_the_order_of_a_set_does_not_matter_for_another_process_has_another(kind):
    one, other = kind([0, 8]), kind([8, 0])
    assert list(one) != list(other), "these two are walked through in two orders"
    marks = {mark_of(replace(SEASON, purchases=(replace(SEASON.purchases[0], levels=few),))) for few in (one, other)}
    assert len(marks) == 1


@pytest.fixture
def large(client, director, school, monkeypatch):
    """The worker plans what a request would have no time for."""
    make_band(school)
    client.force_login(director)
    monkeypatch.setattr("desk.views.season_plan.MOST_FOR_MORE", 1)
    monkeypatch.setattr("desk.views.season_plan.PLAN_WITHIN", 0.0)
    return reverse("desk:season-plan") + f"{ASKED}&shop_money=90"


def work() -> LongWork:
    call_command("work", once=True, stdout=io.StringIO())
    return LongWork.objects.latest("queued_at")


def test_a_large_season_is_planned_by_the_worker_and_shown_to_whoever_asked_for_a_day(client, director, large, school):
    small = client.get(reverse("desk:season-plan")).text
    assert "Season plan" in small
    asked = [client.get(f"{large}&junk=Ana").headers["Location"] for _ in range(2)]  # the second while the first waits
    row = work()
    assert asked == [f"/progress/{row.pk}/"] * 2
    assert (row.is_failed, row.result_url) == (False, large)
    page = " ".join(client.get(row.result_url).text.split())
    assert "2 of 2 seats filled" in page
    assert "Not proven best" not in page
    paper = pypdfium2.PdfDocument(client.get(large.replace("?", "plan.pdf?")).content)
    assert "2 of 2 seats filled" in " ".join("".join(one.get_textpage().get_text_range() for one in paper).split())
    other = make_director(school, username="other")
    client.force_login(other)
    assert client.get(large).status_code == 302, "another person's is not shown"


def test_a_large_season_that_changed_is_planned_again_but_not_at_once(client, large, school):
    client.get(large)
    row = work()
    make_seat(place=make_ensemble(school=school, name="Jazz band", priority=2), kind_code="trumpet")
    page = " ".join(client.get(large).text.split())
    assert "0 of 3 seats filled" in page, "as far as the time of a request reaches"
    LongWork.objects.update(finished_at=row.finished_at - HOLDS_FOR)
    assert client.get(large).status_code == 302
    assert LongWork.objects.open().count() == 1


def test_what_takes_long_to_read_is_left_to_the_worker_unread_and_a_long_plan_is_folded(client, large, monkeypatch):
    """Common practice, no source."""
    monkeypatch.setattr("desk.views.season_plan.MOST_TO_READ", 0)
    monkeypatch.setattr("desk.pages.season_plan.LONG", 0)
    monkeypatch.setattr("desk.pages.season_shown.FIRST", 0)
    with monkeypatch.context() as unread:
        unread.setattr("desk.views.season_plan.season_for", None)
        assert client.get(large).status_code == 302
    page = client.get(address := work().result_url)
    assert page.context["page"]["ensembles"] == []
    assert "all=ensembles#ensembles" in page.text
    page = client.get(f"{address}&all=ensembles")
    folded = [one["name"] for one in page.context["page"]["ensembles"]]
    assert folded
    assert page.text.count('<details class="fold">') >= len(folded)
    assert "all=ensembles#ensembles" not in page.text
