"""Wishes and instruments for the tests of assigning: a first-year trumpet player and a trumpet that suits."""

from itertools import count

from loans.rules.assigning import Offer, Wanted, Weights

WEIGHTS = Weights(same=8, level=3, condition=2, fairness=12, priority=10, waited=2)
numbers = count(1)


def wish(**overrides) -> Wanted:
    number = next(numbers)
    return Wanted(
        **{"key": f"w{number}", "pool": 1, "player": number, "kind": "trumpet", "level": "first_year"} | overrides
    )


def offer(**overrides) -> Offer:
    return Offer(**{"key": next(numbers), "pool": 1, "kind": "trumpet"} | overrides)
