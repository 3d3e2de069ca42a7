"""The assignment against every way there is (up to six by six), against scipy at a large size, and its lots by count."""

import random
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import LinearConstraint, linear_sum_assignment, milp

from loans.rules.assigning.solve import NEVER, _tight, draw, solve
from tests.loans.rules.assigning.brute_force import best_ways, worth


def solved(points, without, *, seed=0, rows=None, columns=None):
    figures = np.array(points, dtype=np.int64).reshape(len(points), -1)
    return solve(
        figures,
        np.array(without, dtype=np.int64),
        rows=rows or [f"r{i}" for i in range(figures.shape[0])],
        columns=columns or [f"c{j}" for j in range(figures.shape[1])],
        seed=seed,
    )


@st.composite
def problems(draw, most=5, highest=3):
    """Few different figures, so that there are ties."""
    n, m = draw(st.integers(1, most)), draw(st.integers(1, most))
    figure = st.integers(NEVER, highest)
    points = draw(st.lists(st.lists(figure, min_size=m, max_size=m), min_size=n, max_size=n))
    return points, draw(st.lists(st.integers(0, highest), min_size=n, max_size=n))


@given(problems(), st.integers(0, 2**63))
@settings(max_examples=150, deadline=None)
def test_no_way_is_better_and_the_chances_are_those_of_all_best_ways(problem, seed):
    points, without = problem
    best, every = best_ways(points, without)
    solution = solved(points, without, seed=seed)
    assert solution.columns in every
    assert worth(points, without, solution.columns) == best
    assert solution.chances == tuple(len({way[row] for way in every}) for row in range(len(points)))


@pytest.mark.parametrize("seed", range(3))
def test_six_by_six(seed):
    generator = random.Random(seed)
    points = [[generator.choice([NEVER, 0, 1, 2, 30]) for _ in range(6)] for _ in range(6)]
    without = [generator.randrange(4) for _ in range(6)]
    assert solved(points, without, seed=seed).columns in best_ways(points, without)[1]


@given(problems(most=4, highest=1))
@settings(max_examples=25, deadline=None)
def test_every_best_way_is_drawn_by_some_seed(problem):
    every = best_ways(*problem)[1]
    if len(every) <= 24:
        drawn = {solved(*problem, seed=seed).columns for seed in range(60 * len(every))}
        assert drawn == every


@given(problems(), st.randoms(use_true_random=False), st.integers(0, 2**63))
@settings(max_examples=60, deadline=None)
def test_the_order_of_rows_and_columns_changes_nothing(problem, generator, seed):
    points, without = problem
    rows, columns = list(range(len(points))), list(range(len(points[0])))
    before = solved(points, without, seed=seed).columns
    generator.shuffle(rows)
    generator.shuffle(columns)
    after = solved(
        [[points[i][j] for j in columns] for i in rows],
        [without[i] for i in rows],
        seed=seed,
        rows=[f"r{i}" for i in rows],
        columns=[f"c{j}" for j in columns],
    ).columns
    assert {rows[k]: columns[j] if j >= 0 else j for k, j in enumerate(after)} == dict(enumerate(before))


@pytest.mark.parametrize(
    "names", [["a", "b", "c"], ["z1", "a", "0007"]], ids=["alike", "first and last in every order"]
)
def test_one_instrument_among_three_goes_to_each_as_often(names):
    got = Counter(solved([[0], [0], [0]], [0, 0, 0], seed=seed, rows=names).columns.index(0) for seed in range(3000))
    assert sorted(got) == [0, 1, 2]
    assert stats.chisquare([got[row] for row in range(3)]).pvalue > 0.001


def test_every_order_of_four_alike_comes_as_often():
    got = Counter(solved([[0] * 4] * 4, [0] * 4, seed=seed).columns for seed in range(4800))
    assert len(got) == 24
    assert stats.chisquare(list(got.values())).pvalue > 0.001


def test_one_that_costs_more_is_never_drawn():
    assert {solved([[1], [0], [0]], [0, 0, 0], seed=seed).columns[0] for seed in range(200)} == {-1}


@pytest.mark.parametrize("seed", range(4))
def test_scipy_alone_finds_nothing_cheaper_among_eighty(seed):
    """Where everybody is served, the points are those of scipy's own assignment and of its integer programme."""
    generator = np.random.default_rng(seed)
    points = generator.integers(0, 50, size=(60, 80))
    solution = solved(points, [0] * 60, seed=seed)
    total = sum(points[row, column] for row, column in enumerate(solution.columns))
    assert total == points[linear_sum_assignment(points)].sum()
    once = [np.kron(np.eye(60), np.ones(80)), np.kron(np.ones(60), np.eye(80))]
    whole = milp(
        points.ravel(),
        constraints=[LinearConstraint(once[0], 1, 1), LinearConstraint(once[1], 0, 1)],
        integrality=np.ones(60 * 80),
    )
    assert total == round(whole.fun)


def test_the_most_are_served_whatever_it_costs():
    assert solved([[0, 99], [NEVER, 0], [0, NEVER]], [0, 9, 9]).columns.count(-1) == 1
    assert -1 not in solved([[0, 99], [0, NEVER]], [0, 0]).columns


def test_a_match_that_is_not_the_cheapest_is_found_out():
    cost = np.array([[0, 5], [5, 0]], dtype=np.int64)
    with pytest.raises(ArithmeticError, match="cheaper"):
        _tight(cost, np.ones((2, 2), dtype=np.bool_), np.array([1, 0]))


def test_figures_beyond_exact_arithmetic_are_refused():
    with pytest.raises(OverflowError, match="too many points"):
        solved([[2**40]], [2**40])


@pytest.mark.parametrize("points", [[[]], [[NEVER]]], ids=["no column", "no pair"])
def test_nobody_can_have_anything(points):
    assert solved(points, [1]).columns == (-1,)
    assert solved(points, [1]).chances == (1,)


def test_lots_hang_on_seed_row_and_column():
    lots = {draw(1, "a", "b"), draw(2, "a", "b"), draw(1, "b", "a"), draw(1, "a", "")}
    assert len(lots) == 4
    assert all(0 <= lot < 2**40 for lot in lots)
