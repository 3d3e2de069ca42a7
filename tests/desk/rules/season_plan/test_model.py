"""The programme: what is alike is one variable, and amounts are exact."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desk.rules.season_plan import Action, Budget, BudgetKind, Budgets, Candidate, Option, Purchase, Season, Seats
from desk.rules.season_plan.model import build_model, hundredths, taken_from, uses_of

REPAIR = Option(
    Action.REPAIR, bench="main", hours=Decimal("1.25"), parts_amount=Decimal("3.10"), shop_amount=Decimal(7)
)


def test_amounts_are_whole_hundredths_and_a_third_place_is_refused():
    assert [hundredths(Decimal(text)) for text in ("0", "0.01", "19.99", "1E+2")] == [0, 1, 1999, 10000]
    for text in ("0.001", "NaN", "Infinity"):
        with pytest.raises(ValueError, match="two places"):
            hundredths(Decimal(text))


def test_hours_of_one_bench_count_for_it_and_for_all_benches_together():
    uses = uses_of(REPAIR)
    assert taken_from(uses, Budget(BudgetKind.HOURS, "main")) == taken_from(uses, Budget(BudgetKind.HOURS)) == 125
    assert taken_from(uses, Budget(BudgetKind.HOURS, "annex")) == 0
    assert [taken_from(uses, Budget(kind)) for kind in (BudgetKind.REPAIR, BudgetKind.SHOP, BudgetKind.PURCHASE)] == [
        310,
        700,
        0,
    ]


def test_a_thousand_alike_are_as_large_as_one():
    seats = (Seats("a", "trumpet", count=400), Seats("b", "trumpet", count=400))
    sizes = {
        build_model(Season(seats, tuple(Candidate(f"h{n}", "trumpet", options=(REPAIR,)) for n in range(count)))).size
        for count in (1, 1000)
    }
    assert sizes == {3}  # one way, and one flow to each of the seats


def test_what_fills_no_seat_is_no_variable_and_purchases_are_no_more_than_seats():
    season = Season(
        (Seats("a", "trumpet", count=4),),
        (Candidate("h", "oboe", is_ready=True, options=(REPAIR,)),),
        (
            Purchase("new", "trumpet", Decimal(5)),
            Purchase("few", "trumpet", Decimal(4), limit=3),
            Purchase("x", "oboe", Decimal(1)),
        ),
        Budgets(Decimal(1), Decimal(1), Decimal(1), Decimal(100)),
    )
    model = build_model(season)
    assert [(way.action, way.cents) for way in model.ways] == [(Action.BUY, 400), (Action.BUY, 500)]
    assert model.most.tolist() == [3, 4, 4]


def test_goals_scale_weights_to_whole_numbers():
    season = Season(
        (Seats("a", "tuba", weight=Decimal("0.5"), priority=2), Seats("b", "tuba", weight=Decimal("0.25"), priority=1)),
        (Candidate("h", "tuba", is_ready=True),),
    )
    assert [goal.tolist() for goal in build_model(season).goals()] == [[0, 0, 1], [0, 2, 0]]


def test_no_goal_goes_below_each_seat_filled_once():
    """Worked by hand: 2 seats of weight 1 and 1 of 0.5, in halves: 5; two instruments could fill either. Money: nothing."""
    season = Season(
        (Seats("a", "tuba", count=2), Seats("b", "tuba", weight=Decimal("0.5"))),
        (Candidate("h", "tuba", is_ready=True), Candidate("i", "tuba", options=(REPAIR,))),
    )
    model = build_model(season)
    (goal,) = model.goals()
    assert model.floor(-goal) == -5
    assert model.floor(model.cents) == 0
