"""Reads of ensembles, classes and seats: who plays what, and how many instruments that takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, Readiness, School, Whereabouts
from inventory.rules.playing import LEVELS
from loans.models import ClassPeriod, ClassPeriodQuerySet, Ensemble, Loan, Seat, SharedUse, Student
from loans.rules.assigning.fit import LAST_PRIORITY

MAY_GO = {Readiness.MAY_GO_OUT, Readiness.WITH_LIMITS}
BENCH = {Whereabouts.ON_BENCH, Whereabouts.AT_SHOP}
# From what asks least of an instrument to what asks most: who plays in two ensembles needs it for the harder one.
BY_DEMAND = ("marching", *(level for level in LEVELS if level != "marching"))
BY_NAME = ("student__sort_name", "student_id")


def places_of(school: School) -> tuple[list[Ensemble], list[ClassPeriod]]:
    """Return the ensembles and class periods of a school, each annotated with ``seated`` and ``unsaid`` (no kind yet)."""
    here = Q(seats__until=None, seats__isnull=False, seats__student__left_on=None, seats__student__erased_at=None)
    counts = {"seated": Count("seats", filter=here), "unsaid": Count("seats", filter=here & Q(seats__kind_code=""))}
    return (
        list(school.ensembles.annotate(**counts).order_by("-is_active", "priority", "name", "pk")),
        list(
            school.periods.select_related("ensemble").annotate(**counts).order_by("-is_active", "place", "name", "pk")
        ),
    )


def periods_of(user: User) -> ClassPeriodQuerySet:
    """Return the classes in use that a user may see."""
    return ClassPeriod.objects.visible_to(user).filter(is_active=True)


def seats_in(place: ClassPeriod | Ensemble) -> QuerySet[Seat]:
    """Return the seats of a class by name, with the number of what the player has of this kind: ``has``, or ``shares``."""
    has = Loan.objects.open().filter(student=OuterRef("student"), instrument__kind_code=OuterRef("kind_code"))
    rows = place.seats.filter(until=None, student__left_on=None, student__erased_at=None)
    numbers = Subquery(has.order_by("-lent_at").values("instrument__asset_number")[:1])
    shared = SharedUse.objects.filter(seat=OuterRef("pk"), until=None).values("instrument__asset_number")[:1]
    return rows.select_related("student").annotate(has=numbers, shares=Subquery(shared)).order_by(*BY_NAME, "pk")


def unseated_students(place: ClassPeriod | Ensemble) -> QuerySet[Student]:
    """Return the current students of the school who are not in this class, annotated with ``elsewhere``, their seats."""
    there = place.seats.filter(until=None).values("student")
    rows = Student.objects.current().filter(school=place.school_id, who=Student.Who.STUDENT).exclude(pk__in=there)
    return rows.annotate(elsewhere=Count("seats", filter=Q(seats__until=None, seats__isnull=False)))


@dataclass(slots=True)
class Demand:
    """What one student needs of one kind, over all the seats that ask for it."""

    student: int
    kind: str
    size: str = ""
    level: str = ""
    priority: int = LAST_PRIORITY
    ensemble: str = ""  # the name of the one with that priority
    since: date | None = None  # None: it is not known since when
    period: int | None = None  # the first class of the day where it is played
    seat: int | None = None
    place: int = 100

    def add(self, *, size: str, level: str, priority: int, ensemble: str, since: date) -> None:
        self.size = self.size or size
        self.level = max(self.level, level, key=_demands)
        self.ensemble = ensemble if priority < self.priority else self.ensemble or ensemble
        self.priority = min(self.priority, priority)
        self.since = since if self.since is None else min(self.since, since)


def _demands(level: str) -> int:
    return BY_DEMAND.index(level) if level in BY_DEMAND else -1


def demands_of(school: School, *, is_unmet: bool = False) -> list[Demand]:
    """Return what the school's students need: of their seats, and of those who wait outside ensembles.

    ``is_unmet``: only of those who have no instrument of that kind. Two queries, whatever the number of students.
    """
    found: dict[tuple[int, str], Demand] = {}
    seats = Seat.objects.unmet() if is_unmet else Seat.objects.wanting()
    rows = seats.filter(student__school=school).select_related("student", "ensemble", "period__ensemble")
    for seat in rows.order_by("pk"):
        played_in = seat.ensemble or (seat.period.ensemble if seat.period else None)
        demand = found.setdefault((seat.student_id, seat.kind_code), Demand(seat.student_id, seat.kind_code))
        demand.add(
            size=seat.size,
            level=seat.level or (played_in.level if played_in else seat.student.level),
            priority=played_in.priority if played_in else LAST_PRIORITY,
            ensemble=played_in.name if played_in else "",
            since=seat.since,
        )
        place = seat.period.place if seat.period else 99
        if place < demand.place:
            demand.place, demand.period, demand.seat = place, seat.period_id, seat.pk
    for pk, kind, level in Student.objects.waiting().filter(school=school).values_list("pk", "wants_kind", "level"):
        found.setdefault((pk, kind), Demand(pk, kind, level=level))
    return list(found.values())


@dataclass(slots=True)
class Need:
    """One kind, in one size where sizes are asked for, at one school."""

    kind: str
    size: str
    levels: Counter[str] = field(default_factory=Counter)  # of those who need one
    needed: int = 0
    playing: int = 0  # have one of the school's
    free: int = 0  # may go out today
    kept: int = 0  # in storage, and stay in
    bench: int = 0  # on the bench or at a shop

    @property
    def short(self) -> int:
        """How many more would have to be able to go out."""
        return max(self.needed - self.playing - self.free, 0)

    @property
    def short_after_bench(self) -> int:
        return max(self.short - self.bench, 0)


def need_of(school: School, *, today: date) -> list[Need]:
    """Return the need of each kind that somebody plays or waits for, as the score has them. Five queries."""
    demands = demands_of(school)
    lines: dict[tuple[str, str], Need] = {}
    mine = Student.objects.filter(school=school).values("pk")
    out = Loan.objects.open().filter(student__in=mine).values_list("student_id", "instrument__kind_code")
    shared = SharedUse.objects.open().filter(seat__student__in=mine).values_list("seat__student_id", "seat__kind_code")
    has = {*out, *shared}
    for one in demands:
        line = lines.setdefault((one.kind, one.size), Need(one.kind, one.size))
        line.needed += 1
        line.levels[one.level] += 1
        line.playing += (one.student, one.kind) in has
    _count_instruments(lines, school=school, today=today)
    order = {code: number for number, code in enumerate(catalog().kinds)}
    return sorted(lines.values(), key=lambda line: (order.get(line.kind, len(order)), line.size))


def _count_instruments(lines: dict[tuple[str, str], Need], *, school: School, today: date) -> None:
    """Count each instrument once: on the line of its size, or else on the line of any size."""
    kinds = {kind for kind, _ in lines}
    rows = Instrument.objects.in_use().filter(school=school, kind_code__in=kinds)
    columns = ("kind_code", "options", "whereabouts", "readiness", "ready_until")
    shared = SharedUse.objects.open().filter(instrument__in=rows).values("instrument")
    for kind, options, whereabouts, readiness, until in rows.exclude(pk__in=shared).values_list(*columns):
        line = lines.get((kind, size_of(kind, options))) or lines.get((kind, ""))
        if line is None:
            continue
        if whereabouts in BENCH:
            line.bench += 1
        elif whereabouts == Whereabouts.IN_STORE:
            if readiness in MAY_GO and (until is None or until >= today):
                line.free += 1
            else:
                line.kept += 1


def size_of(kind_code: str, options: dict[str, str]) -> str:
    """Return the size of an instrument; "" where its kind has none."""
    return catalog().kind(kind_code).chosen(options).get("size", "")


def unmet_counts(schools: Collection[int], kinds: Collection[str]) -> dict[tuple[int, str], int]:
    """Count students by school and kind who need one and have none; a student counts once for a kind. One query."""
    seats = Seat.objects.unmet().filter(student__school__in=schools, kind_code__in=kinds)
    waiting = Student.objects.waiting().filter(school__in=schools, wants_kind__in=kinds)
    rows = seats.order_by().values_list("student__school_id", "kind_code", "student_id")
    others = waiting.order_by().values_list("school_id", "wants_kind", "pk")
    return dict(Counter((school, kind) for school, kind, _ in rows.union(others)))


def level_words(levels: Iterable[tuple[str, int]]) -> list[tuple[str, int]]:
    """Return levels with their counts, from the first year on."""
    return sorted(levels, key=lambda one: LEVELS.index(one[0]) if one[0] in LEVELS else len(LEVELS))


def periods_with(school: School) -> dict[int | None, ClassPeriod]:
    return {period.pk: period for period in school.periods.order_by("place", "name", "pk")}
