"""The plan as plain values that JSON can hold."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal

from desk.rules.season_plan import Action, Budgets, Candidate, Option, Purchase, Season, Seats, more_of, plan_season
from desk.rules.season_plan.report import plan_as_dict


def told(**overrides: object) -> dict:
    season = Season(
        seats=(Seats("wind", "tuba", count=3), Seats("jazz", "bassoon", priority=2)),
        candidates=(
            Candidate(
                "U1",
                "tuba",
                options=(Option(Action.REPAIR, "main", Decimal("1.5"), Decimal("9.95"), ready_on=date(2027, 7, 1)),),
            ),
            Candidate("U2", "tuba"),
        ),
        purchases=(Purchase("new", "tuba", Decimal(800), limit=1),),
        budgets=Budgets({"main": Decimal(4), "annex": Decimal(0)}, Decimal(20), None, Decimal(1000)),
    )
    plan = plan_season(season)
    return json.loads(json.dumps(plan_as_dict(season, plan, more=more_of(season, plan) if overrides else None)))


def test_it_says_who_is_seated_what_is_done_and_what_it_costs():
    found = told()
    assert (found["seated"], found["wanted"], found["cost"], found["gap"], found["proven"]) == (
        2,
        4,
        "809.95",
        0.0,
        True,
    )
    assert found["by_seat"] == [
        {
            "id": "jazz", "kind": "bassoon", "priority": 2, "wanted": 1, "seated": 0,
            "why": "No instrument fits, and none can be bought",
        },
        {
            "id": "wind", "kind": "tuba", "priority": 1, "wanted": 3, "seated": 2,
            "why": "Not enough instruments, with these hours and this money",
        },
    ]  # fmt: skip
    assert found["decisions"] == [
        {
            "id": "U1", "do": "repair", "seat": "wind", "cost": "9.95", "hours": "1.50", "bench": "main",
            "ready_on": "2027-07-01",
        },
        {
            "id": "U2", "do": "leave", "seat": None, "cost": "0.00", "hours": "0.00", "why": "no_way",
            "because": "No known repair would make it ready",
        },
        {"id": "new", "do": "buy", "seat": "wind", "cost": "800.00", "hours": "0.00", "count": 1},
    ]  # fmt: skip


def test_it_says_what_each_budget_gave():
    assert told()["by_pot"] == {
        "bench_hours": {
            "used": "1.50",
            "limit": None,
            "by_bench": {"annex": {"used": "0.00", "limit": "0.00"}, "main": {"used": "1.50", "limit": "4.00"}},
        },
        "repair_money": {"used": "9.95", "limit": "20.00"},
        "shop_money": {"used": "0.00", "limit": None},
        "purchase_money": {"used": "800.00", "limit": "1000.00"},
    }


def test_it_says_what_more_would_fill_when_asked():
    assert "more" not in told()
    found = told(more=True)["more"]
    assert {(one["budget"], one["bench"], one["more"], one["seats"]) for one in found} == {
        ("bench_hours", "annex", "5.00", 0), ("bench_hours", "main", "5.00", 0),
        ("repair_money", None, "100.00", 0), ("repair_money", None, "500.00", 0),
        ("purchase_money", None, "100.00", 0), ("purchase_money", None, "500.00", 0),
    }  # fmt: skip
