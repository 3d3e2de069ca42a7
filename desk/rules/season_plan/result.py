"""The plan itself: what is done with each instrument, for which seats, why the others are left, and what it costs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum

from desk.rules.season_plan.facts import Action, Budget, BudgetKind, Candidate, Option, Purchase, Season, Seats, suits
from desk.rules.season_plan.model import MONEY, Model, Suits, Uses, Way, build_model, hundredths, taken_from, uses_of
from desk.rules.season_plan.solve import Left, Solution, solve, without_end

SECONDS = 20.0  # for each goal


class Reason(StrEnum):
    """Why an instrument is left as it is, or seats stay empty."""

    NO_SEAT = "no_seat"  # nobody asks for its kind there
    NO_WAY = "no_way"  # nothing is known that would make it ready
    NOT_ENOUGH = "not_enough"  # for the levels that ask for it
    TOO_LATE = "too_late"
    OVER = "over"  # by itself more than a whole budget
    FILLED = "filled"  # all seats it could fill are filled
    ELSEWHERE = "elsewhere"  # the money and the hours do more elsewhere, proven
    NOT_REACHED = "not_reached"  # the same without proof: a better plan may fill more seats
    SHORT = "short"  # of a seat: fewer instruments than seats, with this money and these hours
    NOTHING_FITS = "nothing_fits"  # of a seat: no instrument and no purchase could fill it


@dataclass(frozen=True, slots=True)
class Decision:
    """What is done with one instrument, or how many are bought; ``seats`` is the key of those it fills."""

    key: str
    action: Action
    seats: str = ""
    count: int = 1
    candidate: Candidate | None = None
    purchase: Purchase | None = None
    option: Option | None = None
    ready_on: date | None = None
    why: Reason | None = None
    uses: Uses = ()  # cents, hundredths of an hour, for all of ``count``

    @property
    def amount(self) -> Decimal:
        return Decimal(sum(taken for budget, taken in self.uses if budget.kind in MONEY)).scaleb(-2)

    @property
    def hours(self) -> Decimal:
        return Decimal(sum(taken for budget, taken in self.uses if budget.kind is BudgetKind.HOURS)).scaleb(-2)


@dataclass(frozen=True, slots=True)
class Filled:
    """Seats that ask for the same, and how many of them are filled."""

    seats: Seats
    seated: int
    why: Reason | None = None  # where some stay empty

    @property
    def short(self) -> int:
        return self.seats.count - self.seated


@dataclass(frozen=True, slots=True)
class SeasonPlan:
    filled: tuple[Filled, ...]
    decisions: tuple[Decision, ...]  # by key, purchases last
    gap: float  # a share: of the seats that a better plan could fill more, or of the cost it could save; the larger
    is_proven: bool  # no plan seats more, and none that seats as much costs less

    @property
    def seated(self) -> int:
        return sum(one.seated for one in self.filled)

    @property
    def wanted(self) -> int:
        return sum(one.seats.count for one in self.filled)

    @property
    def weight(self) -> Decimal:
        return sum((one.seated * one.seats.weight for one in self.filled), Decimal(0))

    @property
    def used(self) -> dict[Budget, Decimal]:
        """Return what it takes from each budget, each bench by itself; dollars and hours."""
        taken = Counter[Budget]()
        for one in self.decisions:
            taken.update(dict(one.uses))
        return {budget: Decimal(taken[budget]).scaleb(-2) for budget in sorted(taken)}

    @property
    def cost_amount(self) -> Decimal:
        return sum((one.amount for one in self.decisions), Decimal("0.00"))

    @property
    def hours(self) -> Decimal:
        return sum((one.hours for one in self.decisions), Decimal("0.00"))


def plan_season(
    season: Season,
    *,
    seconds: float = SECONDS,
    left: Left = without_end,
    tolerated: float = 0.0,
    is_costed: bool = True,
    solution: Solution | None = None,
) -> SeasonPlan:
    """Return the plan that fills most seats by the season's goal, then costs least, then takes the fewest hours.

    The same season gives the same plan, in whatever order it is listed. ``seconds`` for each goal, and no
    more for all of them than is ``left``; without ``is_costed`` the cost is not made small, which takes less time.
    ``solution`` is what was found for this very season before; then nothing is searched. ValueError where two have one
    key, or an amount has a third place.
    """
    model = build_model(season)
    if solution is None:
        solution = solve(model, seconds=seconds, left=left, tolerated=tolerated, is_costed=is_costed)
    seated = Counter[int]()
    decisions = list(_taken(model, solution, seated))
    decided = {one.key for one in decisions}
    limits = {budget: hundredths(limit) for budget, limit in season.budgets.limits()}
    is_most = all(stage.is_proven for stage in solution.seats)
    others = _Left(model, seated, limits, is_most=is_most)
    decisions += [others.decision(one) for one in season.candidates if one.key not in decided]
    served = frozenset[int]().union(*(way.suits for way in model.ways))
    return SeasonPlan(
        filled=tuple(
            Filled(
                one, seated[place], _why_empty(one.count - seated[place], is_served=place in served, is_most=is_most)
            )
            for place, one in enumerate(model.seats)
        ),
        decisions=tuple(sorted(decisions, key=lambda one: (one.action is Action.BUY, one.key, one.seats))),
        gap=max(solution.seats_gap, solution.cost_gap),
        is_proven=solution.is_proven,
    )


@dataclass(frozen=True, slots=True)
class _Ready:
    """One instrument that the plan makes ready, or has; or one of those bought."""

    decision: Decision
    is_free: bool


def _taken(model: Model, solution: Solution, seated: Counter[int]) -> Iterator[Decision]:
    """Yield what is done; members of a group in the order of their keys, what costs something first."""
    ready = defaultdict[Suits, list[_Ready]](list)
    next_member = Counter[int]()
    for way, count in zip(model.ways, solution.values.tolist(), strict=False):
        for _ in range(count):
            ready[way.suits].append(_ready(model, way, next_member[way.group]))
            next_member[way.group] += 1
    flows = zip(model.flows, solution.values[len(model.ways) :].tolist(), strict=True)
    places = defaultdict[Suits, list[int]](list)
    for (suited, to), count in sorted(flows, key=lambda flow: (model.seats[flow[0][1]].priority, flow[0][1])):
        places[suited] += [to] * count
    bought = Counter[Decision]()
    for suited, there in ready.items():
        there.sort(key=lambda one: (one.is_free, one.decision.action is not Action.USE, one.decision.key))
        for one, place in zip(there, places[suited], strict=False):  # what is made ready for nobody is left
            seated[place] += 1
            decision = replace(one.decision, seats=model.seats[place].key)
            if decision.action is Action.BUY:
                bought[decision] += 1
            else:
                yield decision
    for decision, count in bought.items():
        yield replace(decision, count=count, uses=tuple((budget, taken * count) for budget, taken in decision.uses))


def _ready(model: Model, way: Way, number: int) -> _Ready:
    group = model.groups[way.group]
    if group.purchase is not None:
        found = Decision(group.purchase.key, Action.BUY, purchase=group.purchase, ready_on=group.purchase.ready_on)
        return _Ready(replace(found, uses=way.uses), is_free=False)
    candidate = group.members[number]
    option = candidate.options[way.place] if way.place >= 0 else None
    ready_on = option.ready_on if option else None
    decision = Decision(candidate.key, way.action, candidate=candidate, option=option, ready_on=ready_on, uses=way.uses)
    return _Ready(decision, is_free=not way.uses)


def _why_empty(short: int, *, is_served: bool, is_most: bool) -> Reason | None:
    if not short:
        return None
    if not is_served:
        return Reason.NOTHING_FITS
    return Reason.SHORT if is_most else Reason.NOT_REACHED


@dataclass(frozen=True)
class _Left:
    """What the reasons of instruments that are left hang on."""

    model: Model
    seated: Mapping[int, int]
    limits: Mapping[Budget, int]
    is_most: bool  # no plan seats more, proven

    def decision(self, one: Candidate) -> Decision:
        if one.is_ready:
            return Decision(one.key, Action.SPARE, candidate=one)
        return Decision(one.key, Action.LEAVE, candidate=one, why=self._why(one))

    def _why(self, one: Candidate) -> Reason:
        """Return the one thing that would have to change first."""
        asking = [
            (place, seats)
            for place, seats in enumerate(self.model.seats)
            if _may_fill(seats, one, levels=None, ready_on=None)
        ]
        if not asking:
            return Reason.NO_SEAT
        if not one.options:
            return Reason.NO_WAY
        enough = [
            (option, place, seats)
            for option in one.options
            for place, seats in asking
            if _may_fill(seats, one, levels=option.levels, ready_on=None)
        ]
        if not enough:
            return Reason.NOT_ENOUGH
        in_time = [
            (option, place)
            for option, place, seats in enough
            if _may_fill(seats, one, levels=option.levels, ready_on=option.ready_on)
        ]
        if not in_time:
            return Reason.TOO_LATE
        paid = [(option, place) for option, place in in_time if not self._is_over(option)]
        if not paid:
            return Reason.OVER
        is_room = any(self.seated[place] < self.model.seats[place].count for _, place in paid)
        if not is_room:
            return Reason.FILLED
        return Reason.ELSEWHERE if self.is_most else Reason.NOT_REACHED

    def _is_over(self, option: Option) -> bool:
        uses = uses_of(option)
        return any(taken_from(uses, budget) > limit for budget, limit in self.limits.items())


def _may_fill(seats: Seats, one: Candidate, *, levels: frozenset[str] | None, ready_on: date | None) -> bool:
    return suits(seats, kind=one.kind, school=one.school, size=one.size, levels=levels, ready_on=ready_on)
