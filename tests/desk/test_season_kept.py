"""What was found for a large season comes back for that season alone. Common practice, no source."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from core.models import LongWork
from desk.rules.season_plan import Budgets, Purchase, Season, Seats
from desk.rules.season_plan.model import build_model
from desk.rules.season_plan.result import plan_season
from desk.rules.season_plan.solve import solve
from desk.season_kept import DOES, keep_solution, mark_of, solution_for
from tests.factories import NOW

pytestmark = pytest.mark.django_db
SEASON = Season(
    (Seats("band", "trumpet", 3),),
    purchases=(Purchase("new", "trumpet", Decimal("200.00"), levels=frozenset({"student", "step_up", "pro"})),),
    budgets=Budgets(purchase_amount=Decimal("500.00")),
)


def test_the_same_plan_is_made_from_what_was_kept_and_none_for_another_season(director):
    work = LongWork.objects.create(
        function=DOES, title="Plan", language="en", dedupe_key="m", person=director, queued_at=NOW
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
