"""The order of rungs against worked examples and against trying every order.

Sources: the model and the ratio c / p are the least-cost testing sequence (Mitten 1960; Simon and Kadane 1975; review by
Unluyurt 2004), chains by blocks after Garey 1973. The worked figures are our own, computed by hand over all orders.
"""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from repairs.rules.ladder import LadderError, RungChoice, best_order, expected_cost, worth_trying

A, B, C = RungChoice("A", 5, 0.2), RungChoice("B", 20, 0.5), RungChoice("C", 60, 0.9)


@pytest.mark.parametrize(
    ("order", "cost"),
    [("ABC", 45.00), ("BAC", 46.50), ("BCA", 50.25), ("ACB", 54.60), ("CAB", 62.10), ("CBA", 62.25)],
)
def test_the_cost_of_all_six_orders_of_the_worked_example(order, cost):
    named = {rung.id: rung for rung in (A, B, C)}
    assert expected_cost([named[letter] for letter in order]) == pytest.approx(cost)


def test_the_best_of_the_six_is_found():
    found = best_order([C, B, A])
    assert (found.order, found.expected_cost, found.exact) == (("A", "B", "C"), pytest.approx(45.00), True)
    assert found.model == "independent remedies, stop at first success"


def test_a_costly_rung_before_a_cheap_one_is_judged_as_a_block():
    """Single ratios 100, 2.5 and 20 would start with C; the block A B has 14.39."""
    found = best_order([RungChoice("C", 6, 0.3), RungChoice("A", 10, 0.1), RungChoice("B", 2, 0.8, after=("A",))])
    assert (found.order, found.expected_cost) == (("A", "B", "C"), pytest.approx(12.88))


def cheapest(rungs: list[RungChoice]) -> float:
    """Try every order that keeps every ``after``."""
    least = float("inf")
    for order in permutations(rungs):
        place = {rung.id: number for number, rung in enumerate(order)}
        if all(place[earlier] < place[rung.id] for rung in rungs for earlier in rung.after):
            cost, reached = 0.0, 1.0
            for rung in order:
                cost += reached * rung.cost
                reached *= 1 - rung.p
            least = min(least, cost)
    return least


def draw(generator: random.Random, count: int, density: float) -> list[RungChoice]:
    """Draw rungs with round figures (so that ties happen) and an acyclic order under a random naming."""
    names = [f"r{number}" for number in range(count)]
    rungs = []
    for number, name in enumerate(names):
        after = tuple(other for other in names[:number] if generator.random() < density)
        p = generator.choice([generator.uniform(0.01, 1.0), round(generator.uniform(0.1, 1.0), 1)])
        cost = generator.choice([0.0, generator.uniform(0, 100), float(generator.randrange(1, 20))])
        rungs.append(RungChoice(name, cost, p, after))
    generator.shuffle(rungs)
    return rungs


@pytest.mark.parametrize("density", [0.0, 0.15, 0.4, 1.0], ids=["free", "loose", "tight", "one chain"])
def test_no_order_is_cheaper_in_a_thousand_random_cases(density):
    generator = random.Random(f"rungs {density}")
    for _ in range(1000):
        rungs = draw(generator, generator.randrange(1, 7), density)
        found = best_order(rungs)
        place = {name: number for number, name in enumerate(found.order)}
        assert found.exact
        assert sorted(found.order) == sorted(rung.id for rung in rungs)
        assert all(place[earlier] < place[rung.id] for rung in rungs for earlier in rung.after)
        assert found.expected_cost == pytest.approx(cheapest(rungs), abs=1e-9)


def test_no_order_of_chains_is_cheaper_in_a_thousand_random_cases():
    generator = random.Random("chains")
    for _ in range(1000):
        rungs: list[RungChoice] = []
        for chain in "xyz":
            before: tuple[str, ...] = ()
            for number in range(generator.randrange(0, 3)):
                rung = RungChoice(f"{chain}{number}", generator.uniform(0, 50), generator.uniform(0.01, 1), before)
                rungs.append(rung)
                before = (rung.id,)
        assert best_order(rungs).expected_cost == pytest.approx(cheapest(rungs), abs=1e-9)


def test_twelve_rungs_in_any_order_are_exact():
    generator = random.Random("twelve")
    for _ in range(5):
        assert best_order(draw(generator, 12, 0.1)).exact


def test_more_rungs_than_can_be_searched_keep_the_order_but_promise_nothing():
    generator = random.Random("many")
    rungs = draw(generator, 30, 0.06)
    found = best_order(rungs)
    place = {name: number for number, name in enumerate(found.order)}
    assert not found.exact
    assert all(place[earlier] < place[rung.id] for rung in rungs for earlier in rung.after)
    named = {rung.id: rung for rung in rungs}
    assert found.expected_cost == pytest.approx(expected_cost([named[name] for name in found.order]))


def test_a_long_chain_is_still_exact():
    rungs = [RungChoice(str(n), 1.0 + n % 7, 0.1, (str(n - 1),) if n else ()) for n in range(40)]
    assert best_order(rungs).exact


def test_ties_keep_the_order_given():
    rungs = [RungChoice(name, 10, 0.5) for name in "dbca"]
    assert best_order(rungs).order == ("d", "b", "c", "a")


def test_a_try_is_left_out_where_the_shop_is_cheaper_than_the_best_of_all_choices():
    """Against trying every subset of rungs in the given order, 500 random cases."""
    generator = random.Random("stop")
    for _ in range(500):
        rungs = [RungChoice(str(n), generator.uniform(0, 60), generator.uniform(0.05, 0.9)) for n in range(6)]
        shop = RungChoice("shop", generator.uniform(10, 120), 1.0)
        kept, dropped = worth_trying(rungs, to_come=shop.cost)
        found = expected_cost([*(rung for rung in rungs if rung.id in kept), shop])
        subsets = ([rung for n, rung in enumerate(rungs) if mask >> n & 1] for mask in range(64))
        assert found == pytest.approx(min(expected_cost([*some, shop]) for some in subsets))
        assert set(kept) | set(dropped) == {rung.id for rung in rungs}


def test_a_try_that_is_asked_for_stays():
    dear = RungChoice("dear", 100, 0.1)
    assert worth_trying([dear], to_come=50) == ((), {"dear": 50})
    assert worth_trying([dear], to_come=50, wanted=["dear"]) == (("dear",), {})


def test_no_rungs_cost_nothing():
    assert best_order([]).expected_cost == 0


@pytest.mark.parametrize(
    ("rungs", "words"),
    [
        ([RungChoice("a", 1, 0.5), RungChoice("a", 1, 0.5)], "given twice"),
        ([RungChoice("a", 1, 0.5, ("b",))], "not a rung here"),
        ([RungChoice("a", 1, 0.5, ("b",)), RungChoice("b", 1, 0.5, ("a",))], "circle"),
        ([RungChoice("a", 1, 0.5, ("a",))], "circle"),
        ([RungChoice("a", -1, 0.5)], "cost"),
        ([RungChoice("a", float("nan"), 0.5)], "cost"),
        ([RungChoice("a", 1, 1.5)], "between 0 and 1"),
        ([RungChoice("a", 1, float("nan"))], "between 0 and 1"),
    ],
    ids=["twice", "unknown", "circle", "itself", "cost below 0", "no cost", "p above 1", "no p"],
)
def test_what_is_no_ladder_is_refused_with_its_reason(rungs, words):
    with pytest.raises(LadderError, match=words):
        best_order(rungs)
