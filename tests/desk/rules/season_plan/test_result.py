"""The plan against every plan there is, against published instances, and against solvers of another kind."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from desk.rules.season_plan import (
    Action,
    Budget,
    BudgetKind,
    Budgets,
    Candidate,
    Goal,
    Option,
    Purchase,
    Reason,
    Season,
    SeasonPlan,
    Seats,
    plan_season,
)
from tests.desk.rules.season_plan.brute_force import best, draw_season


def by_priority(season: Season, plan: SeasonPlan) -> tuple[Decimal, ...]:
    """Return the weight that a plan seats, in the order of the season's goal."""
    priorities = sorted({one.priority for one in season.seats})
    seated = [
        sum((one.seated * one.seats.weight for one in plan.filled if one.seats.priority == priority), Decimal(0))
        for priority in priorities
    ]
    return (sum(seated, Decimal(0)), *seated) if season.goal is Goal.MOST else tuple(seated)


def count_again(season: Season, plan: SeasonPlan) -> None:
    """Fail unless the decisions can be carried out: each seat and instrument once, no budget over by a cent."""
    wanted = {one.key: one for one in season.seats}
    taken = Counter[str]()
    for one in plan.decisions:
        if not one.seats:
            assert one.action in {Action.SPARE, Action.LEAVE}
            assert one.amount == one.hours == 0
            continue
        taken[one.seats] += one.count
        thing = one.candidate or one.purchase
        levels = one.option.levels if one.option else thing.levels
        seats = wanted[one.seats]
        assert seats.kind == thing.kind
        assert not seats.size or seats.size == thing.size
        assert not seats.school or not thing.school or seats.school == thing.school
        assert not seats.level or levels is None or seats.level in levels
        assert seats.needed_by is None or one.ready_on is None or one.ready_on <= seats.needed_by
    assert taken == {one.seats.key: one.seated for one in plan.filled if one.seated}
    assert all(one.seated <= one.seats.count for one in plan.filled)
    assert Counter(one.key for one in plan.decisions if one.candidate) == {one.key: 1 for one in season.candidates}
    bought = Counter[str]()
    for one in plan.decisions:
        bought[one.key] += one.count if one.purchase else 0
    assert all(one.limit is None or bought[one.key] <= one.limit for one in season.purchases)
    used = plan.used | {Budget(BudgetKind.HOURS): plan.hours}
    assert all(used.get(budget, 0) <= limit for budget, limit in season.budgets.limits())


@pytest.mark.parametrize("seed", range(120))
def test_no_plan_of_all_there_are_is_better(seed):
    """Brute force over every plan of small seasons: seats by priority, then dollars, then hours."""
    season = draw_season(random.Random(seed), candidates=3 + seed % 2)
    plan = plan_season(season)
    count_again(season, plan)
    assert (by_priority(season, plan), plan.cost_amount, plan.hours) == best(season)
    assert (plan.is_proven, plan.gap) == (True, 0.0)


# The 0/1 knapsack as a season: each thing is a seat of its own kind with its profit as weight, filled by one instrument.


def knapsack(profits: list[int], *sizes: list[int], capacities: list[int]) -> Season:
    """Return the season of a knapsack; a second row of sizes is paid from shop money."""
    more = sizes[1] if sizes[1:] else [0] * len(profits)
    return Season(
        seats=tuple(Seats(f"s{n:02}", f"k{n}", weight=Decimal(profit)) for n, profit in enumerate(profits)),
        candidates=tuple(
            Candidate(
                f"h{n:02}", f"k{n}",
                options=(Option(Action.REPAIR, parts_amount=Decimal(size), shop_amount=Decimal(other)),),
            )
            for n, (size, other) in enumerate(zip(sizes[0], more, strict=True))
        ),
        budgets=Budgets(None, *(Decimal(one) for one in capacities)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("profits", "sizes", "capacity", "optimum"),
    [
        ([92, 57, 49, 68, 60, 43, 67, 84, 87, 72], [23, 31, 29, 44, 53, 38, 63, 85, 89, 82], 165, 309),
        ([24, 13, 23, 15, 16], [12, 7, 11, 8, 9], 26, 51),
        ([350, 400, 450, 20, 70, 8, 5, 5], [25, 35, 45, 5, 25, 3, 2, 2], 104, 900),
        ([442, 525, 511, 593, 546, 564, 617], [41, 50, 49, 59, 55, 57, 60], 170, 1735),
        (
            [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
            [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120], 750, 1458,
        ),
        (
            [825594, 1677009, 1676628, 1523970, 943972, 97426, 69666, 1296457, 1679693, 1902996, 1844992, 1049289,
             1252836, 1319836, 953277, 2067538, 675367, 853655, 1826027, 65731, 901489, 577243, 466257, 369261],
            [382745, 799601, 909247, 729069, 467902, 44328, 34610, 698150, 823460, 903959, 853665, 551830,
             610856, 670702, 488960, 951111, 323046, 446298, 931161, 31385, 496951, 264724, 224916, 169684],
            6404180, 13549094,
        ),
    ],
    ids=["P01", "P02", "P05", "P06", "P07", "P08"],
)  # fmt: skip
def test_published_knapsacks_come_out_at_their_published_optimum(profits, sizes, capacity, optimum):
    """KNAPSACK_01, data for the 0/1 knapsack problem, Florida State University: P01, P02, P05 to P08."""
    plan = plan_season(knapsack(profits, sizes, capacities=[capacity]))
    assert (plan.weight, plan.is_proven) == (optimum, True)
    assert plan.cost_amount <= capacity


def test_a_published_knapsack_of_two_budgets_comes_out_at_its_published_optimum():
    """OR-Library, multidimensional knapsack (mknap2), WEING1: 28 things, two limits of 600, optimum 141278."""
    profits = [1898, 440, 22507, 270, 14148, 3100, 4650, 30800, 615, 4975, 1160, 4225, 510, 11880,
               479, 440, 490, 330, 110, 560, 24355, 2885, 11748, 4550, 750, 3720, 1950, 10500]  # fmt: skip
    first = [45, 0, 85, 150, 65, 95, 30, 0, 170, 0, 40, 25, 20, 0, 0, 25, 0, 0, 25, 0, 165, 0, 85, 0, 0, 0, 0, 100]
    second = [
        30,
        20,
        125,
        5,
        80,
        25,
        35,
        73,
        12,
        15,
        15,
        40,
        5,
        10,
        10,
        12,
        10,
        9,
        0,
        20,
        60,
        40,
        50,
        36,
        49,
        40,
        19,
        150,
    ]
    plan = plan_season(knapsack(profits, first, second, capacities=[600, 600]))
    assert (plan.weight, plan.is_proven) == (141278, True)


def assignment(costs: list[list[int]]) -> Season:
    """Return a season in which instrument i made ready for seat j costs so many dollars."""
    return Season(
        seats=tuple(Seats(f"s{j:02}", "horn", level=f"s{j:02}") for j in range(len(costs))),
        candidates=tuple(
            Candidate(
                f"h{i:02}", "horn",
                options=tuple(
                    Option(Action.SEND_OUT, shop_amount=Decimal(cost), levels=frozenset({f"s{j:02}"}))
                    for j, cost in enumerate(row)
                ),
            )
            for i, row in enumerate(costs)
        ),
    )  # fmt: skip


def test_a_published_assignment_costs_its_published_least():
    """The worked 4 x 4 example of hungarianalgorithm.com, "The Hungarian algorithm: an example": 69 + 37 + 11 + 23 = 140."""
    plan = plan_season(assignment([[82, 83, 69, 92], [77, 37, 49, 92], [11, 69, 5, 86], [8, 9, 98, 23]]))
    assert (plan.seated, plan.cost_amount, plan.is_proven) == (4, 140, True)
    assert {one.key: one.seats for one in plan.decisions} == {"h00": "s02", "h01": "s01", "h02": "s00", "h03": "s03"}


@pytest.mark.parametrize("seed", range(4))
def test_middle_assignments_cost_what_another_solver_says(seed):
    """scipy's linear_sum_assignment, which knows no integer programme, on 25 x 25."""
    costs = np.random.default_rng(seed).integers(1, 1000, size=(25, 25))
    rows, columns = linear_sum_assignment(costs)
    plan = plan_season(assignment(costs.tolist()))
    assert (plan.seated, plan.cost_amount, plan.is_proven) == (25, int(costs[rows, columns].sum()), True)


def most_by_table(profits: list[int], sizes: list[int], capacity: int) -> tuple[int, int]:
    """Return the most profit, and the least size that has it, by dynamic programming over every capacity."""
    best_of = [(0, 0)] * (capacity + 1)  # profit, and minus the size
    for profit, size in zip(profits, sizes, strict=True):
        for room in range(capacity, size - 1, -1):
            before = best_of[room - size]
            best_of[room] = max(best_of[room], (before[0] + profit, before[1] - size))
    profit, size = max(best_of)
    return profit, -size


@pytest.mark.parametrize("seed", range(6))
def test_middle_knapsacks_come_out_as_by_dynamic_programming(seed):
    """80 things, by a table over every capacity: the profit, then the least money."""
    generator = random.Random(seed)
    profits = [generator.randrange(1, 60) for _ in range(80)]
    sizes = [generator.randrange(5, 90) for _ in range(80)]
    plan = plan_season(knapsack(profits, sizes, capacities=[900]))
    assert (plan.weight, plan.cost_amount, plan.is_proven) == (*most_by_table(profits, sizes, 900), True)


def small(**overrides: object) -> Season:
    """Two trumpet seats; one trumpet that is ready, one that takes 2 h and $10 here or $90 outside."""
    season = Season(
        seats=(Seats("wind", "trumpet", count=2, needed_by=date(2027, 8, 20)),),
        candidates=(
            Candidate("T1", "trumpet", is_ready=True),
            Candidate(
                "T2", "trumpet",
                options=(
                    Option(Action.REPAIR, hours=Decimal(2), parts_amount=Decimal(10), ready_on=date(2027, 7, 1)),
                    Option(Action.SEND_OUT, shop_amount=Decimal(90), ready_on=date(2027, 8, 1)),
                ),
            ),
        ),
    )  # fmt: skip
    return replace(season, **overrides)


def said(plan: SeasonPlan) -> dict[str, tuple[Action, Reason | None]]:
    return {one.key: (one.action, one.why) for one in plan.decisions}


def test_what_is_ready_goes_out_and_the_cheaper_way_is_taken():
    plan = plan_season(small())
    assert said(plan) == {"T1": (Action.USE, None), "T2": (Action.REPAIR, None)}
    assert (plan.seated, plan.wanted, plan.cost_amount, plan.hours) == (2, 2, 10, 2)


def test_without_hours_it_is_sent_out():
    plan = plan_season(small(budgets=Budgets(bench_hours=Decimal("1.99"))))
    assert said(plan)["T2"] == (Action.SEND_OUT, None)


def test_a_budget_that_is_reached_to_the_cent_is_enough_and_a_cent_less_is_not():
    enough = small(budgets=Budgets(Decimal(2), Decimal("10.00"), Decimal(0)))
    assert said(plan_season(enough))["T2"] == (Action.REPAIR, None)
    lacking = small(budgets=Budgets(Decimal(2), Decimal("9.99"), Decimal(0)))
    assert said(plan_season(lacking))["T2"] == (Action.LEAVE, Reason.OVER)


def test_one_student_is_not_promised_two_instruments():
    plan = plan_season(small(seats=(Seats("wind", "trumpet"),)))
    assert said(plan) == {"T1": (Action.USE, None), "T2": (Action.LEAVE, Reason.FILLED)}
    assert plan.cost_amount == 0


@pytest.mark.parametrize(
    ("seats", "why"),
    [
        (Seats("s", "tuba"), Reason.NO_SEAT),
        (Seats("s", "trumpet", school="north"), Reason.NO_SEAT),
        (Seats("s", "trumpet", level="concert"), Reason.NOT_ENOUGH),
        (Seats("s", "trumpet", needed_by=date(2027, 6, 1)), Reason.TOO_LATE),
    ],
    ids=["kind", "school", "level", "date"],
)
def test_what_is_left_says_why(seats, why):
    option = Option(Action.REPAIR, ready_on=date(2027, 7, 1), levels=frozenset({"first"}))
    horn = Candidate("T", "trumpet", school="south", options=(option,))
    plan = plan_season(Season((seats,), (horn,)))
    assert said(plan) == {"T": (Action.LEAVE, why)}
    assert [one.why for one in plan.filled] == [Reason.NOTHING_FITS]


def test_what_nothing_can_be_done_with_and_what_does_more_elsewhere_say_so():
    horns = (
        Candidate("A", "trumpet"),
        Candidate("B", "trumpet", options=(Option(Action.REPAIR, parts_amount=Decimal(30)),)),
        Candidate("C", "trumpet", options=(Option(Action.REPAIR, parts_amount=Decimal(31)),)),
    )
    plan = plan_season(Season((Seats("s", "trumpet", count=3),), horns, budgets=Budgets(None, Decimal(60))))
    assert said(plan) == {
        "A": (Action.LEAVE, Reason.NO_WAY),
        "B": (Action.REPAIR, None),
        "C": (Action.LEAVE, Reason.ELSEWHERE),
    }
    assert [(one.short, one.why) for one in plan.filled] == [(2, Reason.SHORT)]


def test_seats_without_instruments_do_not_blame_the_money_alone():
    """No limit, and one trumpet for three seats: more money would fill none of the others."""
    plan = plan_season(Season((Seats("s", "trumpet", count=3),), (Candidate("A", "trumpet", is_ready=True),)))
    assert [(one.short, one.why) for one in plan.filled] == [(2, Reason.SHORT)]


def test_a_spare_is_said_to_be_one():
    horns = (Candidate("A", "trumpet", is_ready=True), Candidate("B", "oboe", is_ready=True))
    plan = plan_season(Season((Seats("s", "tuba"),), horns))
    assert said(plan) == {"A": (Action.SPARE, None), "B": (Action.SPARE, None)}


def test_the_first_priority_comes_first_and_most_seats_only_when_asked():
    """One seat of priority 1 for $100, or two of priority 2 for $50 each."""
    season = Season(
        seats=(Seats("wind", "tuba", priority=1), Seats("beginners", "trumpet", count=2, priority=2)),
        candidates=(
            Candidate("U", "tuba", options=(Option(Action.SEND_OUT, shop_amount=Decimal(100)),)),
            Candidate("T1", "trumpet", options=(Option(Action.SEND_OUT, shop_amount=Decimal(50)),)),
            Candidate("T2", "trumpet", options=(Option(Action.SEND_OUT, shop_amount=Decimal(50)),)),
        ),
        budgets=Budgets(shop_amount=Decimal(100)),
    )
    first = plan_season(season)
    assert {one.seats.key: one.seated for one in first.filled} == {"wind": 1, "beginners": 0}
    most = plan_season(replace(season, goal=Goal.MOST))
    assert {one.seats.key: one.seated for one in most.filled} == {"wind": 0, "beginners": 2}


def test_as_many_are_bought_as_there_are_seats_for_and_no_more_than_the_limit():
    season = Season(
        (Seats("a", "tuba", count=2), Seats("b", "tuba", count=2)), purchases=(Purchase("new", "tuba", Decimal(5)),)
    )
    plan = plan_season(season)
    assert [(one.key, one.action, one.seats, one.count, one.amount) for one in plan.decisions] == [
        ("new", Action.BUY, "a", 2, 10),
        ("new", Action.BUY, "b", 2, 10),
    ]
    limited = plan_season(replace(season, purchases=(Purchase("new", "tuba", Decimal(5), limit=3),)))
    assert (limited.seated, limited.cost_amount) == (3, 15)


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_a_list_changes_nothing(seed):
    """Ties abound: all cost the same. Common practice, no source."""
    options = (Option(Action.REPAIR, parts_amount=Decimal(10)),)
    season = Season(
        seats=tuple(Seats(f"s{n}", "trumpet", school=f"{n % 2}") for n in range(6)),
        candidates=tuple(Candidate(f"h{n}", "trumpet", options=options) for n in range(9)),
        budgets=Budgets(None, Decimal(40)),
    )
    generator = random.Random(seed)
    shuffled = replace(
        season,
        seats=tuple(generator.sample(season.seats, 6)),
        candidates=tuple(generator.sample(season.candidates, 9)),
    )
    assert plan_season(shuffled).decisions == plan_season(season).decisions


def test_two_with_one_key_and_a_third_place_are_refused():
    with pytest.raises(ValueError, match="one key"):
        plan_season(Season((Seats("s", "tuba"),), (Candidate("A", "tuba"), Candidate("A", "tuba"))))
    odd = Candidate("A", "tuba", options=(Option(Action.REPAIR, hours=Decimal("0.125")),))
    with pytest.raises(ValueError, match="two places"):
        plan_season(Season((Seats("s", "tuba"),), (odd,)))


def test_no_seats_and_no_instruments_are_an_empty_plan():
    plan = plan_season(Season(()))
    assert (plan.seated, plan.decisions, plan.cost_amount, plan.gap, plan.is_proven) == (0, (), 0, 0.0, True)


def test_without_proof_nothing_is_said_to_do_more_elsewhere():
    """No time: the repair is affordable and its seat is empty, which no other repair is to blame for."""
    horn = Candidate("A", "trumpet", options=(Option(Action.REPAIR, parts_amount=Decimal(30)),))
    asked = Season((Seats("s", "trumpet"), Seats("t", "tuba")), (horn,), budgets=Budgets(None, Decimal(40)))
    plan = plan_season(asked, left=lambda: 0.0)
    assert said(plan) == {"A": (Action.LEAVE, Reason.NOT_REACHED)}
    assert [one.why for one in plan.filled] == [Reason.NOT_REACHED, Reason.NOTHING_FITS]
    assert (plan.gap, plan.is_proven) == (1.0, False)
