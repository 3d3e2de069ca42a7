"""Ensembles, classes, and who plays what in them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from core.models import User
from desk.demo.stage import Stage
from inventory.models import School
from loans.models import ClassPeriod, Loan, Student
from loans.selectors.seats import demands_of
from loans.services.assigning import SEED_BITS, lock_assignment, propose_assignment
from loans.services.seats import SeatFacts, add_ensemble, add_period, seat_students, set_seats

# Ensemble, level, priority, grades, classes: as schools name them.
Band = tuple[str, str, int, tuple[str, ...], tuple[str, ...]]
BANDS: dict[str, list[Band]] = {
    "ALDER": [
        ("Symphonic Band", "concert", 1, ("8",), ("Period 1, Symphonic Band",)),
        ("Concert Band", "second_year", 2, ("7",), ("Period 3, Concert Band",)),
        ("Beginning Band", "first_year", 3, ("6",), ("Period 5, Beginning Band A", "Period 6, Beginning Band B")),
    ],
    "QUARRY": [
        ("Advanced Band", "second_year", 1, ("7", "8"), ("Period 2, Advanced Band",)),
        ("Beginning Band", "first_year", 2, ("6",), ("Period 4, Beginning Band",)),
    ],
    "TVHS": [
        ("Wind Ensemble", "concert", 1, ("11", "12"), ("Block A, Wind Ensemble",)),
        ("Concert Band", "concert", 2, ("9", "10"), ("Block C, Concert Band",)),
    ],
}
JAZZ = ("Jazz Band", "concert", 4)  # meets after school
OFTEN_OWN = ("flute", "clarinet_bb", "trumpet", "sax_alto")
JAZZ_KINDS = ("sax_alto", "sax_tenor", "trumpet", "trombone", "drum_set")
ASSIGNED = "ALDER"  # where an assignment is locked
OWN, UNSAID = 0.75, 0.1


def add_seats(stage: Stage) -> None:
    """Seat every student by grade: with what they have on loan, else mostly with the family's own."""
    for code, bands in BANDS.items():
        school, at = stage.schools[code], stage.at(-70, 8)
        actor = stage.director_of(school)
        place = 0
        for name, level, priority, grades, classes in bands:
            band = add_ensemble(school=school, name=name, level=level, priority=priority, actor=actor, at=at)
            students = list(_students_of(school).filter(grade__in=grades))
            for number, title in enumerate(classes):
                place += 1
                period = add_period(school=school, name=title, place=place, ensemble=band, actor=actor, at=at)
                here = students[number :: len(classes)]
                _seat(stage, period, here, at=stage.at(-68, 8), actor=actor)
    school = stage.schools["TVHS"]
    name, level, priority = JAZZ
    actor, at = stage.director_of(school), stage.at(-60, 15)
    jazz = add_ensemble(school=school, name=name, level=level, priority=priority, actor=actor, at=at)
    players = list(_students_of(school).filter(lent__in=JAZZ_KINDS))[: stage.some(14)]
    kinds = {one.pk: one.lent for one in players}
    seat_students(place=jazz, students=players, kinds=kinds, actor=actor, at=at)


def add_assignment(stage: Stage) -> None:
    """Assign what may go out to those who wait for it, and lock it for the hand-out."""
    school = stage.schools[ASSIGNED]
    actor, at = stage.director_of(school), stage.at(-1, 16)
    if demands_of(school, is_unmet=True):
        made = propose_assignment(school=school, seed=stage.rng.getrandbits(SEED_BITS), actor=actor, at=at)
        lock_assignment(assignment=made, seen=made.revision, replaces=None, actor=actor, at=at)


def _students_of(school: School) -> QuerySet[Any]:
    """Return students annotated with ``lent``, the kind that they have on loan."""
    lent = Loan.objects.open().filter(student=OuterRef("pk")).order_by("pk").values("instrument__kind_code")[:1]
    return Student.objects.current().filter(school=school).annotate(lent=Subquery(lent)).order_by("pk")


def _seat(stage: Stage, place: ClassPeriod, students: Sequence[Any], *, at: datetime, actor: User) -> None:
    kinds: dict[int, str] = {}
    own = set()
    for student in students:
        if kind := student.lent or student.wants_kind:
            kinds[student.pk] = kind
        elif stage.rng.random() >= UNSAID:
            kinds[student.pk] = stage.rng.choice(OFTEN_OWN)
            if stage.rng.random() < OWN:
                own.add(student.pk)
    seats = seat_students(place=place, students=students, kinds=kinds, actor=actor, at=at)
    brought: dict[int, SeatFacts] = {seat.pk: {"is_own": True} for seat in seats if seat.student_id in own}
    set_seats(place=place, seats=brought, actor=actor, at=at)
