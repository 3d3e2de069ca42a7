"""The people an imported list names, and whom of the school's students they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import Prefetch
from django.utils.translation import gettext

from core.days import full_day
from core.models import User
from inventory.catalog.load import catalog
from inventory.columns import NOBODY
from inventory.models import ImportBatch, ImportRow, Instrument, Whereabouts
from loans.models import Loan, Student
from loans.rules.matching import Known, KnownNames, Match, is_adult, person_key, tidy_name
from loans.selectors.sharing import why_each_is_shared

LONGEST_GRADE = 10
NO_GRADE = "?"


@dataclass(frozen=True, slots=True)
class Out:
    """One row whose instrument somebody has; ``instrument`` is the one that it is, where that was registered before."""

    row: int
    number: str
    kind: str
    since: date | None
    due_on: date | None
    instrument: Instrument | None = None


class Refused(NamedTuple):
    """A row of a registered instrument that is not lent to whom it names, and why."""

    row: int
    number: str
    name: str
    reason: str


@dataclass(slots=True)
class Person:
    """Somebody of the list with all that they have."""

    key: str  # of the field that asks who it is
    name: str
    grade: str
    school: str  # code
    match: Match = field(default_factory=Match)
    out: list[Out] = field(default_factory=list)
    students: list[Student] = field(default_factory=list)  # whom it may be, the likeliest first

    @property
    def is_adult(self) -> bool:
        """Whether the list seems to mean one of the staff who is not on the list of borrowers yet."""
        return not self.students and is_adult(self.name, grade=self.grade)

    @property
    def is_asked(self) -> bool:
        """Whether whoever confirms the list is to look at who it is."""
        return self.match.is_asked or self.is_adult

    @property
    def kept_grade(self) -> str:
        return self.grade or NO_GRADE


class Named(NamedTuple):
    people: list[Person]  # who get loans
    refused: list[Refused]
    settled: int  # rows whose instrument is out to whom they name already


def people_in(batch: ImportBatch, *, user: User) -> Named:
    """Everybody whom the rows name, once each, in the order of the list. Five queries."""
    people: dict[tuple[str, str, str], Person] = {}
    refused: list[Refused] = []
    settled = 0
    named = list(_named(batch))
    registered = _registered([row for row, _name in named], user=user)
    shared = why_each_is_shared([one.pk for one in registered.values()]) if registered else {}
    first: dict[int, int] = {}  # instrument -> the first row that is it
    for row, name in named:
        values, school, instrument = row.values, row.values["school"], None
        if row.state == ImportRow.State.KNOWN:
            instrument = registered.get(row.remarks.get("match", ""))
            if instrument and (loan := _open_loan(instrument)) and person_key(loan.student.name) == person_key(name):
                settled += 1
                continue
            why = _why_not(instrument) or (instrument and shared.get(instrument.pk)) or ""
            if instrument and (row_before := first.setdefault(instrument.pk, row.number)) != row.number:
                why = gettext("Row %(row)d is the same instrument.") % {"row": row_before}
            if why or instrument is None:
                refused.append(Refused(row.number, row.remarks.get("match", ""), tidy_name(name), why))
                continue
            school = instrument.school.code
        grade = str(values.get("student_grade", ""))[:LONGEST_GRADE]
        key = (school, person_key(name), grade)
        person = people.setdefault(key, Person(f"who-{row.number}", tidy_name(name), grade, school))
        kind = catalog().kinds.get(values["kind"])
        since, due_on = (date.fromisoformat(values[day]) if day in values else None for day in ("out_since", "due_on"))
        number = instrument.asset_number if instrument else values.get("asset_number", "")
        person.out.append(Out(row.number, number, kind.name if kind else "", since, due_on, instrument))
    students = _students({person.school for person in people.values()}, user=user)
    names = {
        school: KnownNames(Known(one.pk, one.name, one.grade) for one in mine.values())
        for school, mine in students.items()
    }
    for person in people.values():
        if person.school in names:
            mine = students[person.school]
            person.match = names[person.school].match(person.name, grade=person.grade)
            person.students = [mine[pk] for pk in (*person.match.exact, *person.match.like)]
    return Named(list(people.values()), refused, settled)


def _named(batch: ImportBatch) -> Iterator[tuple[ImportRow, str]]:
    states = (ImportRow.State.NEW, ImportRow.State.KNOWN)
    for row in batch.rows.filter(state__in=states).order_by("number"):
        values = row.values
        parts = (values.get("student_first", ""), values.get("student_last", ""))
        name = values.get("student") or " ".join(filter(None, parts))
        if person_key(name) and " ".join(name.casefold().split()) not in NOBODY:
            yield row, name


def _registered(rows: list[ImportRow], *, user: User) -> dict[str, Instrument]:
    """The instruments that the rows are, by asset number, of the schools where the user lends; each with its open loan."""
    numbers = {row.remarks.get("match") for row in rows if row.state == ImportRow.State.KNOWN} - {None, ""}
    found = Instrument.objects.visible_to(user, "desk.lend").filter(asset_number__in=numbers).select_related("school")
    loans = Prefetch("loans", Loan.objects.open().select_related("student"), to_attr="open_loans")
    return {one.asset_number: one for one in found.prefetch_related(loans)}


def _open_loan(instrument: Instrument) -> Loan | None:
    loans: list[Loan] = instrument.open_loans  # type: ignore[attr-defined]  # _registered reads them
    return loans[0] if loans else None


def _why_not(instrument: Instrument | None) -> str:
    """Why a registered instrument is not lent by the word of a list; "" where it is."""
    if instrument is None:
        return gettext("No asset number or serial says which of the registered instruments this is.")
    if loan := _open_loan(instrument):
        out = {"name": loan.student.name, "day": full_day(loan.lent_on)}
        return gettext("Out to %(name)s since %(day)s. Take it back first, or correct the list.") % out
    if instrument.is_parts_instrument or instrument.is_retired or instrument.merged_into_id:
        return gettext("It is out of use.")
    if instrument.whereabouts != Whereabouts.IN_STORE:
        return gettext("It is not in storage: %(place)s.") % {"place": instrument.get_whereabouts_display().lower()}
    return ""


def _students(schools: set[str], *, user: User) -> dict[str, dict[int, Student]]:
    found: dict[str, dict[int, Student]] = {}
    rows = Student.objects.visible_to(user).current().filter(school__code__in=schools).select_related("school")
    for one in rows.order_by("sort_name", "pk"):
        found.setdefault(one.school.code, {})[one.pk] = one
    return found
