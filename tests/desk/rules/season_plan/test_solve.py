"""What was reached, what is not ruled out, and what is kept when time runs out."""

from __future__ import annotations

import random
from decimal import Decimal

import numpy as np
import pytest
from scipy.optimize import milp

from desk.rules.season_plan import Action, Budgets, Candidate, Goal, Option, Season, Seats
from desk.rules.season_plan.model import build_model
from desk.rules.season_plan.solve import Solution, Stage, solve
from tests.desk.rules.season_plan.brute_force import draw_season

NO_TIME = 1e-6  # seconds in which nothing of hard() is proven on any machine


def hard(seed: int = 1) -> Season:
    """Return a season of many different repairs and two tight budgets, with more seats than they can fill."""
    generator = random.Random(seed)
    return Season(
        seats=tuple(Seats(f"s{n}", f"k{n}", weight=Decimal(generator.randrange(50, 99))) for n in range(120)),
        candidates=tuple(
            Candidate(
                f"h{n}", f"k{n}",
                options=(
                    Option(
                        Action.REPAIR, hours=Decimal(generator.randrange(50, 99)),
                        parts_amount=Decimal(generator.randrange(50, 99)),
                    ),
                ),
            )
            for n in range(120)
        ),
        budgets=Budgets(Decimal(4000), Decimal(4000)),
    )  # fmt: skip


def test_a_gap_is_the_share_that_a_better_plan_could_gain():
    found = Solution(np.zeros(0, dtype=np.int64), (Stage(-90, -90), Stage(-8, -10)), Stage(1000, 950))
    assert found.seats_gap == pytest.approx(0.02)
    assert found.cost_gap == pytest.approx(0.05)
    assert not found.is_proven
    assert Solution(found.values, (Stage(-90, -90),), Stage(1000, 1000)).is_proven


def test_nothing_asked_for_has_no_gap():
    found = solve(build_model(Season(())), seconds=1)
    assert (found.seats_gap, found.cost_gap, found.is_proven) == (0.0, 0.0, True)


def test_no_time_leaves_a_plan_that_can_be_carried_out_and_a_gap_that_is_true():
    model = build_model(hard())
    found = solve(model, seconds=NO_TIME)
    matrix, limits = model.rows
    assert (matrix @ found.values <= limits).all()
    longer = solve(model, seconds=2, is_costed=False)
    assert found.seats[0].bound <= longer.seats[0].reached <= found.seats[0].reached
    assert not found.is_proven


@pytest.mark.parametrize("seed", range(12))
def test_bounds_are_never_worse_than_what_was_reached(seed):
    found = solve(build_model(draw_season(random.Random(1000 + seed))), seconds=5)
    assert all(stage.bound == stage.reached for stage in (*found.seats, found.cost))


def test_without_costs_there_is_no_stage_of_costs():
    found = solve(build_model(draw_season(random.Random(3))), seconds=5, is_costed=False)
    assert found.cost is None
    assert found.cost_gap == 0.0


def test_where_nothing_is_left_no_search_begins_and_the_gap_is_all_seats(monkeypatch):
    """Worked by hand: nothing is done, so that all 120 seats could still be filled."""
    monkeypatch.setattr("desk.rules.season_plan.solve.milp", None)
    asked = hard()
    found = solve(build_model(asked), seconds=5, left=lambda: 0.0)
    assert not found.values.any()
    assert found.seats[0] == Stage(0, -int(sum(one.weight for one in asked.seats)))
    assert (found.seats_gap, found.is_proven) == (1.0, False)


def test_no_search_gets_more_than_half_of_its_goals_share(monkeypatch):
    """Worked by hand: 12 seconds for two priorities, cost and hours: 3 each, 1.5 a search; with 1 left, that."""
    given = []

    def recorded(*args, options, **rest):
        given.append(options["time_limit"])
        return milp(*args, options=options, **rest)

    monkeypatch.setattr("desk.rules.season_plan.solve.milp", recorded)
    left = iter([12.0, 12.0, 1.0])
    model = build_model(draw_season(random.Random(1003)))
    solve(model, seconds=20, left=lambda: next(left, 0.0))
    assert len(model.goals()) == 2
    assert given == [1.5, 1.0]


def test_what_all_priorities_together_leave_for_the_last_needs_no_search(monkeypatch):
    """Worked by hand: 2 of 3 seats at most, 1 of them of priority 1, so no more than 1 of priority 2."""
    sought = []

    def recorded(goal, **rest):
        sought.append(tuple(goal))
        return milp(goal, **rest)

    monkeypatch.setattr("desk.rules.season_plan.solve.milp", recorded)
    seats = (Seats("a", "tuba", priority=1), Seats("b", "tuba", count=2, priority=2))
    horns = tuple(Candidate(key, "tuba", is_ready=True) for key in "UV")
    model = build_model(Season(seats, horns, goal=Goal.MOST))
    found = solve(model, seconds=5)
    assert found.seats == (Stage(-2, -2), Stage(-1, -1), Stage(-1, -1))
    last = tuple(-model.goals()[2])
    assert last not in {goal[: model.size] for goal in sought}


def test_all_searches_together_get_no_more_than_is_left(monkeypatch):
    """By a clock of its own, on which each search takes all that it was given."""
    spent = 0.0

    def recorded(*args, options, **rest):
        nonlocal spent
        spent += options["time_limit"]
        return milp(*args, options=options | {"time_limit": NO_TIME}, **rest)

    monkeypatch.setattr("desk.rules.season_plan.solve.milp", recorded)
    found = solve(build_model(hard()), seconds=20, left=lambda: 12.0 - spent)
    assert 0 < spent <= 12
    assert not found.is_proven
