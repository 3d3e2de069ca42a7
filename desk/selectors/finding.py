"""Everything that one search box finds, each as far as the user may see it: instruments, students, loans, jobs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import F, Q

from desk.selectors.finding_instruments import instruments_matching, token_in
from inventory.models import Instrument
from inventory.rules.numbers import number_key
from inventory.selectors.register import MOST_WORDS, Wanted, kept_at, narrowed
from loans.models import Loan, Student, StudentQuerySet, named_by
from loans.selectors.lending import schools_with_names
from repairs.models import Job

MOST = 12  # of each sort
MOST_KEYS = 100  # rows whose loans and jobs are looked for
SHORTEST_NAME = 2


@dataclass(frozen=True, slots=True)
class Found:
    """The first of each sort, and of which there are more."""

    instruments: list[Instrument]
    students: list[Student]
    loans: list[Loan]
    jobs: list[Job]
    more: frozenset[str]
    exact: Instrument | None  # whose number, serial or tag was typed as a whole
    named: frozenset[int]  # schools whose students' names may be shown

    @property
    def count(self) -> int:
        return len(self.instruments) + len(self.students) + len(self.loans) + len(self.jobs)


def find(user: Any, text: str) -> Found:
    """Find what the words mean. Eight queries at most, none of which reads more than its first rows and their names."""
    instruments = instruments_of(user, text)
    keys = [row.pk for row in instruments]
    named = schools_with_names(user)
    known = Student.objects.filter(school__in=named, erased_at=None)
    borrowers = list(called(known, text).order_by("name", "pk").values_list("pk", flat=True)[:MOST_KEYS])
    loans = (
        Loan.objects.visible_to(user)
        .not_undone()
        .filter(Q(instrument__in=keys) | Q(student__in=borrowers, school__in=named))
    )  # those still out first
    jobs = Job.objects.visible_to(user).filter(instrument__in=keys)
    rows: dict[str, list[Any]] = {
        "instruments": instruments[: MOST + 1],
        "students": list(students_of(user, text)[: MOST + 1]),
        "loans": list(
            loans.order_by(F("returned_at").desc(nulls_first=True), "-lent_at", "-pk").for_table()[: MOST + 1]
        ),
        "jobs": list(jobs.order_by(F("closed_at").desc(nulls_first=True), "-pk").for_table()[: MOST + 1]),
    }
    more = frozenset(sort for sort, found in rows.items() if len(found) > MOST)
    shown = {sort: found[:MOST] for sort, found in rows.items()}
    return Found(**shown, more=more, exact=exact_of(instruments, text), named=named)


def instruments_of(user: Any, text: str) -> list[Instrument]:
    """By number, serial or tag; where none of these fits, by the place in the room, then by words."""
    found = instruments_matching(user, text, limit=MOST_KEYS)
    if found or not text.strip():
        return found
    visible = Instrument.objects.visible_to(user)
    kept = visible.filter(pk__in=kept_at(visible, text)).order_by("place", "asset_number")
    rows = narrowed(visible, Wanted(q=text)).order_by("asset_number")
    both = {row.pk: row for some in (kept, rows) for row in some.for_table()[:MOST_KEYS]}
    return list(both.values())[:MOST_KEYS]


def exact_of(instruments: list[Instrument], text: str) -> Instrument | None:
    if len(instruments) != 1:
        return None
    only = instruments[0]
    keys = {number_key(only.asset_number), number_key(only.second_number), number_key(only.serial)} - {""}
    return only if number_key(text) in keys or token_in(text) else None


def students_of(user: Any, text: str) -> StudentQuerySet:
    rows = Student.objects.visible_to(user).filter(erased_at=None)
    return called(rows, text).select_related("school").order_by(F("left_on").asc(nulls_first=True), "name", "pk")


def called(rows: StudentQuerySet, text: str) -> StudentQuerySet:
    """Students whose name or number holds every word."""
    words = text.split()[:MOST_WORDS]
    if sum(map(len, words)) < SHORTEST_NAME:
        return rows.none()
    for word in words:
        rows = rows.filter(named_by(word))
    return rows
