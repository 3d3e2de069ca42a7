"""How many instruments there are, by kind and state: counted by school and kept until something happens there."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Hashable, Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import Case, CharField, Count, Exists, F, OuterRef, Q, QuerySet, Value, When

from inventory.models import Instrument, Readiness, School, Tag, Verdict, Whereabouts, in_use_on
from inventory.rules.readiness import AT_HAND
from inventory.selectors.school_sums import SchoolSums

TO_REPAIR = (Verdict.DOES_NOT_PLAY, Verdict.PLAYS_WITH_LIMITS)


class State(NamedTuple):
    """As the row says it, readiness as it stands on the day."""

    whereabouts: str
    verdict: str
    readiness: str

    @property
    def is_held(self) -> bool:
        return self.whereabouts != Whereabouts.GONE

    @property
    def is_at_hand(self) -> bool:
        return self.whereabouts in AT_HAND


@dataclass
class Fleet:
    """The instruments of a school; only ``states`` and ``kinds`` count what is gone."""

    states: Counter[State] = field(default_factory=Counter)
    kinds: dict[str, Counter[State]] = field(default_factory=lambda: defaultdict(Counter))
    set_aside: int = 0  # in storage and not playing as they should, but kept for parts or retired: no job waits
    to_clean: int = 0  # at hand, and kept in by what goes into a mouth
    to_inspect: int = 0  # back from a loan, and nobody has looked at it since
    untagged: int = 0
    unserialed: int = 0


def readiness_on(today: date) -> Case:
    """The readiness as it stands today: stored, unless the inspection has aged out."""
    aged = When(ready_until__lt=today, then=Value(Readiness.STAYS_IN.value))
    return Case(aged, default=F("readiness"), output_field=CharField())


def _read(schools: Collection[int], today: date, _variant: Hashable) -> dict[int, Fleet]:
    """Count the instruments of the schools. Two queries."""
    fleets = {pk: Fleet() for pk in schools}
    rows = Instrument.objects.filter(school__in=schools).order_by()
    grouped = rows.annotate(now=readiness_on(today)).values_list("school", "kind_code", "whereabouts", "verdict", "now")
    for school, kind, *state, count in grouped.annotate(count=Count("pk")):
        fleets[school].states[State(*state)] += count
        fleets[school].kinds[kind][State(*state)] += count
    tag = Tag.objects.live().filter(instrument=OuterRef("pk"), accessory=None)
    lacking = (
        rows.present()
        .values_list("school")
        .annotate(
            untagged=Count("pk", filter=~Exists(tag)),
            unserialed=Count("pk", filter=Q(serial="")),
            to_clean=Count("pk", filter=Q(whereabouts__in=AT_HAND, is_hygiene_due=True)),
            to_inspect=Count("pk", filter=Q(is_return_inspection_due=True)),
            set_aside=Count("pk", filter=Q(whereabouts=Whereabouts.IN_STORE, verdict__in=TO_REPAIR) & ~in_use_on()),
        )
    )
    for school, *counts in lacking:
        for name, count in zip(("untagged", "unserialed", "to_clean", "to_inspect", "set_aside"), counts, strict=True):
            setattr(fleets[school], name, count)
    return fleets


_fleets = SchoolSums(_read)


def fleets_of(schools: QuerySet[School], *, today: date) -> dict[int, Fleet]:
    """Return the fleet of each school. One query, three where something has happened since."""
    return _fleets.of(schools, today=today)


def states_of(fleets: Iterable[Fleet], *, kind: str = "") -> Counter[State]:
    """Return how many there are in each state, of all kinds or of one."""
    whole: Counter[State] = Counter()
    for fleet in fleets:
        whole.update(fleet.kinds.get(kind, Counter()) if kind else fleet.states)
    return whole


def count_of(states: Counter[State], fits: Callable[[State], bool]) -> int:
    return sum(count for state, count in states.items() if fits(state))


def is_held(state: State) -> bool:
    return state.is_held


def may_go_out(state: State) -> bool:
    return state.is_held and state.readiness == Readiness.MAY_GO_OUT


def goes_with_limits(state: State) -> bool:
    return state.is_held and state.readiness == Readiness.WITH_LIMITS


def is_not_inspected(state: State) -> bool:
    return state.is_held and state.verdict == Verdict.NOT_INSPECTED


def stays_in(state: State) -> bool:
    return state.whereabouts == Whereabouts.IN_STORE and state.readiness == Readiness.STAYS_IN


def is_on_bench(state: State) -> bool:
    return state.whereabouts == Whereabouts.ON_BENCH


def waits_for_repair(state: State) -> bool:
    return state.whereabouts == Whereabouts.IN_STORE and state.verdict in TO_REPAIR


def is_with_student(state: State) -> bool:
    return state.whereabouts == Whereabouts.WITH_STUDENT
