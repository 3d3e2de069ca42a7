"""Hand-out day: who and what is found at a station, how far each class is, what is left over."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from desk.selectors.finding import called
from desk.selectors.finding_instruments import instruments_matching, token_in
from desk.selectors.lending import may_be_lent
from inventory.catalog.load import catalog
from inventory.models import Instrument, InstrumentQuerySet, School, schools_of
from loans.models import AssignmentLine, ClassPeriod, Loan, LoanQuerySet, Student
from loans.selectors.assigning import SERVED, lines_of, lines_to_hand_out, locked_assignment, troubles_of
from loans.selectors.seats import demands_of, periods_with

LEND = "loans.lend_instrument"
MOST_FOUND = 8
MOST_LOOKED_AT = 60


@dataclass(frozen=True, slots=True)
class Found:
    """What a scan or a few letters mean at a station: a student, an instrument, or several to choose from."""

    students: list[Student] = field(default_factory=list)
    instruments: list[Instrument] = field(default_factory=list)
    planned: Mapping[int, AssignmentLine] = field(default_factory=dict)  # what is still to be handed out, by student

    @property
    def count(self) -> int:
        return len(self.students) + len(self.instruments)


def found_at_station(user: Any, text: str, *, has_student: bool) -> Found:
    """Return the student of a card or name, or the instrument of a tag or number; with a student there, rather the latter."""
    words = " ".join(text.split())
    students = Student.objects.visible_to(user, LEND).current().select_related("school").with_out()
    by_card = list(students.filter(number__iexact=words)[:MOST_FOUND]) if words and not has_student else []
    if by_card:
        return Found(students=by_card, planned=lines_to_hand_out(by_card))
    if has_student or token_in(words) or re.search(r"\d", words):
        keys = frozenset(schools_of(user, LEND).values_list("pk", flat=True))
        matching = instruments_matching(user, words, limit=MOST_FOUND)
        if instruments := [row for row in matching if row.school_id in keys]:
            return Found(instruments=instruments)
    rows = list(called(students, words).order_by("sort_name", "pk")[:MOST_LOOKED_AT])
    planned = lines_to_hand_out(rows)
    rows.sort(key=lambda row: (not _begins(row, words), row.pk not in planned))
    return Found(students=rows[:MOST_FOUND], planned=planned)


def _begins(student: Student, words: str) -> bool:
    """Whether a part of the name begins with what was typed; those come first, then those with something to get."""
    return any(part.startswith(words.casefold()) for part in student.name.casefold().split())


@dataclass(frozen=True, slots=True)
class Expected:
    """One student who is to have one instrument of a kind, and whether it is handed out."""

    student: Student
    kind: str
    period: ClassPeriod | None
    trouble: str = ""  # loans.selectors.assigning.troubles_of
    instrument: Instrument | None = None  # None where nothing is assigned

    @property
    def is_served(self) -> bool:
        return self.trouble in SERVED

    @property
    def kind_name(self) -> str:
        return catalog().kind(self.kind).name


@dataclass(slots=True)
class ClassProgress:
    """One class: who is expected, and how many of them have theirs."""

    period: ClassPeriod | None
    expected: list[Expected] = field(default_factory=list)

    @property
    def handed(self) -> int:
        return sum(one.is_served for one in self.expected)

    @property
    def to_come(self) -> list[Expected]:
        return [one for one in self.expected if not one.is_served]


def expected_at(school: School, *, today: date | None = None) -> list[Expected]:
    """Return who is to have an instrument: by the locked assignment, or else by the seats. ``today``: see ``troubles_of``."""
    assignment = locked_assignment(school)
    if assignment is None:
        return _by_seats(school)
    lines = [line for line in lines_of(assignment) if line.instrument_id]
    troubles = troubles_of(lines, today=today)
    rows = [
        Expected(line.student, line.kind_code, line.period, troubles.get(line.pk, ""), line.instrument)
        for line in lines
    ]
    return [row for row in rows if row.trouble != "left"]


def _by_seats(school: School) -> list[Expected]:
    demands, periods = demands_of(school), periods_with(school)
    students = Student.objects.in_bulk({one.student for one in demands})
    out = Loan.objects.open().filter(student__in=students)
    has = set(out.values_list("student_id", "instrument__kind_code"))
    rows = [
        Expected(
            students[one.student],
            one.kind,
            periods.get(one.period or 0),
            "has" if (one.student, one.kind) in has else "",
        )
        for one in demands
    ]
    places = {pk: place for place, pk in enumerate(periods)}
    return sorted(
        rows, key=lambda row: (places.get(row.period.pk, 0) if row.period else len(places), row.student.sort_name)
    )


def by_class(rows: Collection[Expected]) -> list[ClassProgress]:
    """Return the classes in the order of the rows, those outside the timetable where they stand."""
    found: dict[int | None, ClassProgress] = {}
    for row in rows:
        key = row.period.pk if row.period else None
        found.setdefault(key, ClassProgress(row.period)).expected.append(row)
    return list(found.values())


def free_instruments(school: School | None, rows: Collection[Expected], *, today: date) -> InstrumentQuerySet:
    """Return what may go out and is nobody's: not shared in class, nor assigned to anybody who is still to come."""
    kept = [row.instrument.pk for row in rows if row.instrument is not None and not row.is_served]
    free = may_be_lent(today=today).filter(school=school).exclude(pk__in=kept)
    return free.for_table().order_by("kind_code", "asset_number")


def lent_on(school: School | None, day: date) -> LoanQuerySet:
    """Return what went out that day and was no mistake."""
    return Loan.objects.not_undone().filter(school=school, lent_on=day)
