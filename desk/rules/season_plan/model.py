"""The integer program of a season: instruments that are alike are one variable, so are seats that ask for the same.

Variables, all whole numbers from 0: ``ways``, how many of an alike group go one way (as they are, by one of their
options, bought); ``flows``, how many of those that suit the same seats go to which of them. Rows: a group gives no more
than it has, a seat takes one, each budget holds. What a row holds is exact: cents, hundredths of an hour.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from math import lcm

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from desk.rules.season_plan.facts import (
    Action,
    Budget,
    BudgetKind,
    Budgets,
    Candidate,
    Goal,
    Option,
    Purchase,
    Season,
    Seats,
    suits,
)

Whole = NDArray[np.int64]
Suits = frozenset[int]  # places among the seats
Uses = tuple[tuple[Budget, int], ...]
MONEY = frozenset({BudgetKind.REPAIR, BudgetKind.SHOP, BudgetKind.PURCHASE})


def hundredths(value: Decimal) -> int:
    """Return cents of dollars, hundredths of hours; ValueError where there is a third place."""
    whole = value * 100
    if not whole.is_finite() or whole != whole.to_integral_value():
        raise ValueError(f"{value} has more than two places")
    return int(whole)


@dataclass(frozen=True, slots=True)
class Way:
    """One variable: what is done with some of a group. ``uses`` is what one of them takes from each budget."""

    group: int
    action: Action
    suits: Suits
    uses: Uses
    place: int = -1  # among the options of each member

    @property
    def cents(self) -> int:
        return sum(amount for budget, amount in self.uses if budget.kind in MONEY)

    @property
    def hundredth_hours(self) -> int:
        return sum(amount for budget, amount in self.uses if budget.kind is BudgetKind.HOURS)


@dataclass(frozen=True, slots=True)
class Group:
    """Instruments that are alike for this plan, by key, or one purchase."""

    members: tuple[Candidate, ...]
    purchase: Purchase | None
    most: int


@dataclass(frozen=True)
class Model:
    """Groups, their ways, and what goes where. The order hangs on keys alone, never on the order of a file."""

    seats: tuple[Seats, ...]
    groups: tuple[Group, ...]
    ways: tuple[Way, ...]
    flows: tuple[tuple[Suits, int], ...]  # those that suit the same seats, and a place among the seats
    budgets: Budgets
    goal: Goal

    @property
    def size(self) -> int:
        return len(self.ways) + len(self.flows)

    @cached_property
    def most(self) -> Whole:
        """The upper bound of each variable."""
        bounds = [self.groups[way.group].most for way in self.ways]
        return np.array([*bounds, *(self.seats[place].count for _, place in self.flows)], dtype=np.int64)

    @cached_property
    def rows(self) -> tuple[csr_array, Whole]:
        """Rows that may not exceed their limits: groups, supplies, seats, budgets."""
        lines: list[tuple[dict[int, int], int]] = []
        by_group, by_suits = defaultdict[int, list[int]](list), defaultdict[Suits, list[int]](list)
        for number, way in enumerate(self.ways):
            by_group[way.group].append(number)
            by_suits[way.suits].append(number)
        lines += [(dict.fromkeys(ways, 1), self.groups[group].most) for group, ways in by_group.items() if ways[1:]]
        into, out_of = defaultdict[int, list[int]](list), defaultdict[Suits, list[int]](list)
        for number, (suited, place) in enumerate(self.flows, start=len(self.ways)):
            into[place].append(number)
            out_of[suited].append(number)
        lines += [(dict.fromkeys(flows, 1) | dict.fromkeys(by_suits[s], -1), 0) for s, flows in out_of.items()]
        lines += [(dict.fromkeys(flows, 1), self.seats[place].count) for place, flows in into.items()]
        for budget, limit in self.budgets.limits():
            used = {number: taken for number, way in enumerate(self.ways) if (taken := taken_from(way.uses, budget))}
            if used:
                lines.append((used, hundredths(limit)))
        entries = [(row, column, value) for row, (line, _) in enumerate(lines) for column, value in line.items()]
        row, column, value = np.array(entries, dtype=np.int64).reshape(-1, 3).T
        matrix = csr_array((value, (row, column)), shape=(len(lines), self.size))
        return matrix, np.array([limit for _, limit in lines], dtype=np.int64)

    def goals(self) -> list[Whole]:
        """Return what is made as large as can be, one after another; whole numbers."""
        scale = lcm(*(seats.weight.as_integer_ratio()[1] for seats in self.seats)) if self.seats else 1
        priorities = sorted({seats.priority for seats in self.seats})
        goals = [self._weights(scale, {priority}) for priority in priorities]
        whole = [self._weights(scale, set(priorities))] if self.goal is Goal.MOST and priorities[1:] else []
        return [*whole, *goals]

    def _weights(self, scale: int, priorities: set[int]) -> Whole:
        worth = [0] * self.size
        for number, (_, place) in enumerate(self.flows, start=len(self.ways)):
            if self.seats[place].priority in priorities:
                worth[number] = int(self.seats[place].weight * scale)
        return np.array(worth, dtype=np.int64)

    def floor(self, goal: Whole) -> int:
        """Return what no plan can bring a goal below: each seat filled once, for nothing."""
        flows = enumerate(self.flows, start=len(self.ways))
        worth = {place: min(int(goal[number]), 0) for number, (_, place) in flows}
        return sum(value * self.seats[place].count for place, value in worth.items())

    @cached_property
    def cents(self) -> Whole:
        return np.array([*(way.cents for way in self.ways), *([0] * len(self.flows))], dtype=np.int64)

    @cached_property
    def hundredth_hours(self) -> Whole:
        return np.array([*(way.hundredth_hours for way in self.ways), *([0] * len(self.flows))], dtype=np.int64)


def taken_from(uses: Iterable[tuple[Budget, int]], budget: Budget) -> int:
    """Return how much of these uses comes from a budget; the hours of all benches together are one too."""
    return sum(
        taken
        for used, taken in uses
        if used == budget or (budget == Budget(BudgetKind.HOURS) and used.kind is budget.kind)
    )


def uses_of(option: Option) -> Uses:
    """Return what an option takes from each budget: cents, hundredths of an hour."""
    uses = (
        (Budget(BudgetKind.HOURS, option.bench), hundredths(option.hours)),
        (Budget(BudgetKind.REPAIR), hundredths(option.parts_amount)),
        (Budget(BudgetKind.SHOP), hundredths(option.shop_amount)),
    )
    return tuple(use for use in uses if use[1])


def build_model(season: Season) -> Model:
    """Return the program; ValueError where two have one key, or an amount has a third place."""
    keys = [*(one.key for one in season.candidates), *(one.key for one in season.purchases)]
    for names in (keys, [one.key for one in season.seats]):
        if len(set(names)) != len(names):
            raise ValueError("two of them have one key")
    seats = tuple(sorted(season.seats, key=lambda one: one.key))
    asking = defaultdict[str, list[int]](list)
    for place, wanted in enumerate(seats):
        asking[wanted.kind].append(place)
    alike: dict[tuple[_Shape, ...], list[Candidate]] = defaultdict(list)
    for one in sorted(season.candidates, key=lambda one: one.key):
        alike[tuple(_shapes_of(one, seats, asking[one.kind]))].append(one)
    groups, ways = [], []
    for shapes, members in alike.items():
        groups.append(Group(tuple(members), None, len(members)))
        ways += [Way(len(groups) - 1, action, suited, uses, place) for action, suited, uses, place in shapes if suited]
    for purchase in sorted(season.purchases, key=lambda one: one.key):
        suited = _suits(purchase, seats, asking[purchase.kind], levels=purchase.levels, ready_on=purchase.ready_on)
        room = sum(seats[place].count for place in suited)
        groups.append(Group((), purchase, room if purchase.limit is None else min(purchase.limit, room)))
        uses = ((Budget(BudgetKind.PURCHASE), hundredths(purchase.price_amount)),)
        ways += [Way(len(groups) - 1, Action.BUY, suited, uses)] if suited else []
    found = dict.fromkeys(way.suits for way in ways)
    flows = [(suited, place) for suited in found for place in sorted(suited)]
    return Model(seats, tuple(groups), tuple(ways), tuple(flows), season.budgets, season.goal)


_Shape = tuple[Action, Suits, Uses, int]  # what two instruments have in common that are alike


def _shapes_of(one: Candidate, seats: Sequence[Seats], asking: Sequence[int]) -> Iterator[_Shape]:
    if one.is_ready:
        yield Action.USE, _suits(one, seats, asking, levels=one.levels, ready_on=None), (), -1
    for place, option in enumerate(one.options):
        suited = _suits(one, seats, asking, levels=option.levels, ready_on=option.ready_on)
        yield option.action, suited, uses_of(option), place


def _suits(
    one: Candidate | Purchase,
    seats: Sequence[Seats],
    asking: Sequence[int],
    *,
    levels: frozenset[str] | None,
    ready_on: date | None,
) -> Suits:
    """Return which seats it may fill, of the places that ask for its kind."""
    return frozenset(
        place
        for place in asking
        if suits(seats[place], kind=one.kind, school=one.school, size=one.size, levels=levels, ready_on=ready_on)
    )
