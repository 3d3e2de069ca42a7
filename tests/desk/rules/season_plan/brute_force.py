"""Every plan there is, one after another: the best by the words of the goal, with no solver."""

from __future__ import annotations

import random
from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from itertools import product

from desk.rules.season_plan import Action, Budget, BudgetKind, Budgets, Candidate, Goal, Option, Purchase, Season, Seats

START = date(2027, 6, 1)


def fits(seats: Seats, thing: Candidate | Purchase, *, levels: frozenset[str] | None, ready_on: date | None) -> bool:
    if seats.kind != thing.kind or (seats.size and seats.size != thing.size):
        return False
    if seats.school and thing.school and seats.school != thing.school:
        return False
    if seats.level and levels is not None and seats.level not in levels:
        return False
    return not (seats.needed_by and ready_on and ready_on > seats.needed_by)


def choices_of(season: Season, one: Candidate) -> list[tuple[int | None, Option | None]]:
    """Return (place of the seats, option) for each thing that could be done; (None, None) leaves it."""
    found: list[tuple[int | None, Option | None]] = [(None, None)]
    for place, seats in enumerate(season.seats):
        if one.is_ready and fits(seats, one, levels=one.levels, ready_on=None):
            found.append((place, None))
        found += [
            (place, option)
            for option in one.options
            if fits(seats, one, levels=option.levels, ready_on=option.ready_on)
        ]
    return found


def bought_of(season: Season) -> list[list[int | None]]:
    """Return, for each single thing that could be bought, the seats it could fill; None: it is not bought."""
    return [
        [
            None,
            *(n for n, seats in enumerate(season.seats) if fits(seats, one, levels=one.levels, ready_on=one.ready_on)),
        ]
        for one in season.purchases
        for _ in range(one.limit or 0)
    ]


def best(season: Season) -> tuple[tuple[Decimal, ...], Decimal, Decimal]:
    """Return the weights that the best plan seats by priority (all of them first, for the goal MOST), dollars, hours."""
    prices = [one.price_amount for one in season.purchases for _ in range(one.limit or 0)]
    priorities = sorted({one.priority for one in season.seats})
    limits = dict(season.budgets.limits())
    found = []
    for done in product(*(choices_of(season, one) for one in season.candidates), *bought_of(season)):
        chosen, bought = done[: len(season.candidates)], done[len(season.candidates) :]
        places = Counter([place for place, _ in chosen if place is not None] + [n for n in bought if n is not None])
        if any(count > season.seats[place].count for place, count in places.items()):
            continue
        used = Counter[Budget]()
        for _, option in chosen:
            if option is not None:
                used[Budget(BudgetKind.HOURS, option.bench)] += option.hours
                used[Budget(BudgetKind.HOURS)] += option.hours if option.bench else Decimal(0)
                used[Budget(BudgetKind.REPAIR)] += option.parts_amount
                used[Budget(BudgetKind.SHOP)] += option.shop_amount
        used[Budget(BudgetKind.PURCHASE)] += sum(
            (price for price, n in zip(prices, bought, strict=True) if n is not None), Decimal(0)
        )
        if any(used[budget] > limit for budget, limit in limits.items()):
            continue
        seated = [
            sum((count * season.seats[place].weight for place, count in places.items()
                 if season.seats[place].priority == priority), Decimal(0))
            for priority in priorities
        ]  # fmt: skip
        money = used[Budget(BudgetKind.REPAIR)] + used[Budget(BudgetKind.SHOP)] + used[Budget(BudgetKind.PURCHASE)]
        hours = sum((option.hours for _, option in chosen if option is not None), Decimal(0))
        goal = [sum(seated, Decimal(0)), *seated] if season.goal is Goal.MOST else seated
        found.append((tuple(-one for one in goal), money, hours))
    goal, money, hours = min(found)
    return tuple(-one for one in goal), money, hours


def draw_season(generator: random.Random, *, candidates: int = 4) -> Season:
    """Draw a small season in which kinds, sizes, schools, levels, dates and every budget matter."""
    kinds, levels, benches = ("trumpet", "tuba"), ("first", "concert"), ("main", "annex")

    def day() -> date | None:
        return generator.choice([None, START, START + timedelta(days=30), START + timedelta(days=60)])

    def for_levels() -> frozenset[str] | None:
        return generator.choice([None, None, frozenset({"first"}), frozenset({"concert"})])

    def amount(most: int) -> Decimal:
        return Decimal(generator.randrange(most * 4)) / 4

    seats = tuple(
        Seats(
            key=f"s{number}", kind=generator.choice(kinds), count=generator.choice([1, 1, 2]),
            school=generator.choice(["", "north", "south"]), size=generator.choice(["", "", "half"]),
            level=generator.choice(["", *levels]), priority=generator.choice([1, 2]),
            weight=generator.choice([Decimal(1), Decimal(1), Decimal("2.5")]), needed_by=day(),
        )
        for number in range(3)
    )  # fmt: skip
    horns = []
    for number in range(candidates):
        options = [
            Option(
                action=action, bench=generator.choice(benches) if action is Action.REPAIR else "",
                hours=amount(6) if action is Action.REPAIR else Decimal(0),
                parts_amount=amount(40) if action is Action.REPAIR else Decimal(0),
                shop_amount=amount(150) if action is Action.SEND_OUT else Decimal(0), ready_on=day(), levels=for_levels(),
            )
            for action in (Action.REPAIR, Action.SEND_OUT)
            if generator.random() < 0.7
        ]  # fmt: skip
        horns.append(
            Candidate(
                key=f"h{number}", kind=generator.choice(kinds), school=generator.choice(["", "north", "south"]),
                size=generator.choice(["", "half"]), is_ready=generator.random() < 0.25, levels=for_levels(),
                options=tuple(options),
            )
        )  # fmt: skip
    purchases = (
        Purchase(
            "new", generator.choice(kinds), amount(300), limit=1, levels=for_levels(), ready_on=day(), size="half"
        ),
    )
    hours = generator.choice([None, amount(8), {"main": amount(6), "annex": amount(6)}])
    money = [generator.choice([None, amount(most)]) for most in (50, 200, 300)]
    return Season(seats, tuple(horns), purchases, Budgets(hours, *money), generator.choice(list(Goal)))
