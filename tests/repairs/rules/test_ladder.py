"""The order of rungs against worked examples and against trying every order.

Sources: the model and the ratio c / p are the least-cost testing sequence (Mitten 1960; Simon and Kadane 1975; review by
Unluyurt 2004), chains by blocks after Garey 1973. The worked figures are our own, computed by hand over all orders.
"""

from __future__ import annotations

import random
from dataclasses import replace
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
    assert (found.order, found.expected_cost) == (("A", "B", "C"), pytest.approx(45.00))


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


def cheapest_by_sets(rungs: list[RungChoice]) -> float:
    """Go through the sets of tried rungs, smallest first, keeping the cheapest way to reach each: too long for orders."""
    reached = {frozenset[str](): (0.0, 1.0)}
    for _ in rungs:
        following: dict[frozenset[str], tuple[float, float]] = {}
        for tried, (cost, fails) in reached.items():
            for rung in rungs:
                if rung.id not in tried and tried.issuperset(rung.after):
                    key, more = tried | {rung.id}, (cost + fails * rung.cost, fails * (1 - rung.p))
                    following[key] = min(following.get(key, more), more)
        reached = following
    return next(iter(reached.values()))[0]


@pytest.mark.parametrize("count", [8, 12, 15])
def test_up_to_fifteen_rungs_in_any_precedence_are_exact(count):
    """Searched here from the first rung on, there from the last one back."""
    generator = random.Random(f"many {count}")
    for density in (0.15, 0.3):
        rungs = draw(generator, count, density)
        assert best_order(rungs).expected_cost == pytest.approx(cheapest_by_sets(rungs), rel=1e-9)


@pytest.mark.drill
def test_two_hundred_long_ladders_in_any_precedence_are_exact():
    generator = random.Random("drill")
    for _ in range(200):
        rungs = draw(generator, generator.randrange(9, 16), generator.choice([0.1, 0.2, 0.4]))
        assert best_order(rungs).expected_cost == pytest.approx(cheapest_by_sets(rungs), rel=1e-9)


def test_a_rung_before_two_others_among_fifteen_is_exact():
    """Nearly free, so nearly every set of rungs has to be looked at; increasing cost / p is the answer by hand."""
    rungs = [RungChoice(f"r{n}", n + 1, 0.3, ("r0",) if n in {1, 2} else ()) for n in range(15)]
    assert best_order(rungs[::-1]).order == tuple(f"r{n}" for n in range(15))


def test_more_rungs_than_can_be_searched_are_refused_with_the_limit():
    with pytest.raises(LadderError, match="30 rungs are too many to order: at most 15, or separate chains"):
        best_order(draw(random.Random("many"), 30, 0.06))
    long = [RungChoice(f"r{n}", 1, 0.5, (f"r{n - 1}",) if n else ()) for n in range(2000)]
    with pytest.raises(LadderError, match="too many to order"):
        best_order([*long, RungChoice("twin", 1, 0.5, ("r0",))])


def test_chains_of_any_length_are_exact():
    """A chain of its own keeps its order; two chains of like rungs alternate by the ratio of their blocks."""
    chain = [RungChoice(f"a{n}", 1.0 + n, 0.5, (f"a{n - 1}",) if n else ()) for n in range(200)]
    assert best_order(chain).order == tuple(rung.id for rung in chain)
    other = [RungChoice(f"b{n}", 1.5 + n, 0.5, (f"b{n - 1}",) if n else ()) for n in range(200)]
    assert best_order([*other, *chain]).order == tuple(f"{letter}{n}" for n in range(200) for letter in "ab")


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


def cost_of(rungs: list[RungChoice], to_come: float = 0.0) -> float:
    """Return the mean cost, each set-up paid for when it is first needed."""
    total, reached, paid = 0.0, 1.0, set()
    for rung in rungs:
        total += reached * (rung.cost + sum(cost for name, cost in rung.set_up if name not in paid))
        paid |= {name for name, _ in rung.set_up}
        reached *= 1 - rung.p
    return total + reached * to_come


def with_set_up(rungs: list[RungChoice], generator: random.Random, share: float) -> list[RungChoice]:
    prices = {"a": 8.0, "b": 20.0, "c": 60.0}
    return [
        replace(one, set_up=tuple((name, prices[name]) for name in prices if generator.random() < share))
        for one in rungs
    ]


@pytest.mark.parametrize("density", [0.0, 0.3, 1.0], ids=["free", "loose", "one chain"])
def test_set_up_is_paid_for_once_in_the_cheapest_of_all_orders(density):
    generator = random.Random(f"set-up once {density}")
    for _ in range(400):
        rungs = with_set_up(draw(generator, generator.randrange(1, 7), density), generator, 0.35)
        least = min(
            cost_of(list(order))
            for order in permutations(rungs)
            if all(one.id not in later.after for at, later in enumerate(order) for one in order[at + 1 :])
        )
        found = best_order(rungs)
        named = {rung.id: rung for rung in rungs}
        assert found.expected_cost == pytest.approx(least, abs=1e-9)
        assert expected_cost([named[name] for name in found.order]) == pytest.approx(least, abs=1e-9)


def test_what_two_need_alike_brings_them_together():
    """Each alone has ratio 60 against 50: the other first. With one set-up of 10 for both they have 13.6 / 0.36 = 38."""
    one, two = (RungChoice(name, 2, 0.2, set_up=(("apart", 10),)) for name in "ab")
    other = RungChoice("other", 10, 0.2)
    assert best_order([one, two, other]).order == ("a", "b", "other")
    assert best_order([one, other]).order == ("other", "a")


def test_of_all_choices_the_cheapest_is_kept_when_set_up_is_paid_for_once():
    generator = random.Random("set-up")
    prices = {"a": 8.0, "b": 20.0}
    for _ in range(300):
        rungs = [
            RungChoice(
                str(n), generator.uniform(0, 25), generator.uniform(0.05, 0.9),
                set_up=tuple((name, prices[name]) for name in prices if generator.random() < 0.5),
            )
            for n in range(6)
        ]  # fmt: skip
        kept, dropped = worth_trying(rungs, to_come=60)
        subsets = ([rung for n, rung in enumerate(rungs) if mask >> n & 1] for mask in range(64))
        assert cost_of([rung for rung in rungs if rung.id in kept], 60) == pytest.approx(
            min(cost_of(some, 60) for some in subsets)
        )
        assert set(kept) | set(dropped) == {rung.id for rung in rungs}


def test_what_one_try_is_not_worth_two_together_are():
    """Set-up of 10 saves 0.3 of 30 for one; then the second try is almost free: 10 + 0.7 * 0.7 * 30 = 24.70."""
    one, two = (RungChoice(name, 0, 0.3, set_up=(("apart", 10),)) for name in "ab")
    assert worth_trying([one], to_come=30)[0] == ()
    assert worth_trying([one, two], to_come=30)[0] == ("a", "b")


def test_a_try_that_is_asked_for_stays():
    dear = RungChoice("dear", 100, 0.1)
    assert worth_trying([dear], to_come=50) == ((), {"dear": (100, 50)})
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
