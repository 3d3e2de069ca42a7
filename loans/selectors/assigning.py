"""Reads for assigning: what students want, what the school has, and what became of what was locked."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from django.db.models import F

from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, Level, Readiness, School, Verdict, Whereabouts
from inventory.rules.playing import LEVELS, LevelFit, level_fits
from inventory.selectors.standing import standings_of
from inventory.selectors.state import keeps_in
from loans.models import Assignment, AssignmentLine, Loan, SharedUse, Student, wish_key
from loans.rules.assigning import Keeps, Offer, Wanted, Weights
from loans.selectors.seats import BENCH, BY_NAME, MAY_GO, Demand, demands_of, size_of

FIRST = "first_year"
WORN, LIMITED = 1, 2
HYGIENE = "hygiene"
SERVED = frozenset({"lent", "has"})  # of troubles_of: the student has the instrument, or another of the kind


def wishes_of(school: School, *, today: date) -> list[tuple[Demand, Wanted]]:
    """Return what students of the school need and have not, each as the rules take it. Three queries."""
    demands = demands_of(school, is_unmet=True)
    had = _had({one.student for one in demands}, {one.kind for one in demands})
    found = []
    for one in demands:
        last, limits = had.get((one.student, one.kind), (None, False))
        wanted = Wanted(
            key=wish_key(one.student, one.kind),
            pool=school.pk,
            player=one.student,
            kind=one.kind,
            level=one.level,
            size=one.size,
            priority=one.priority,
            waited_days=(today - one.since).days if one.since else 0,
            had=last,
            had_limits=limits,
        )
        found.append((one, wanted))
    return found


def _had(students: Collection[int], kinds: Collection[str]) -> dict[tuple[int, str], tuple[int, bool]]:
    """Return by student and kind the instrument they had last, and whether it went out with limits."""
    rows = (
        Loan.objects.not_undone()
        .filter(student__in=students, instrument__kind_code__in=kinds, returned_at__isnull=False)
        .order_by("lent_at", "pk")
    )
    columns = ("student_id", "instrument__kind_code", "instrument_id", "limits")
    return {(student, kind): (pk, bool(limits)) for student, kind, pk, limits in rows.values_list(*columns)}


def offers_of(
    school: School, kinds: Collection[str], *, today: date, also: Collection[int] = ()
) -> dict[int, tuple[Instrument, Offer]]:
    """Return the school's instruments of these kinds that are in use, each as the rules take it.

    ``also`` are keys of instruments that are read whatever became of them. A fixed number of queries.
    """
    shared = SharedUse.objects.open().filter(period__school=school).values("instrument")  # stay in the room
    used = Instrument.objects.present().in_use().filter(school=school, kind_code__in=kinds).exclude(pk__in=shared)
    rows = list(used | Instrument.objects.filter(school=school, pk__in=also))
    ready = [row for row in rows if row.readiness == Readiness.WITH_LIMITS]
    standings = standings_of(ready)
    marked = set(
        Finding.objects.filter(instrument__in=[row.pk for row in rows]).standing().values_list("instrument", flat=True)
    )
    last = dict(
        Loan.objects.not_undone()
        .filter(instrument__in=[row.pk for row in rows])
        .order_by("lent_at", "pk")
        .values_list("instrument_id", "student_id")
    )
    found = {}
    for row in rows:
        limited = row.verdict == Verdict.PLAYS_WITH_LIMITS
        offer = Offer(
            key=row.pk,
            pool=school.pk,
            kind=row.kind_code,
            size=size_of(row.kind_code, row.options),
            is_better=row.level == Level.INTERMEDIATE,
            condition=LIMITED if limited else WORN if row.pk in marked else 0,
            keeps=keeps_of(row, today=today),
            last_player=last.get(row.pk),
            misses=misses_of(level_fits(reports=standings[row.pk].reports)) if row.pk in standings else {},
        )
        found[row.pk] = (row, offer)
    return found


def keeps_of(instrument: Instrument, *, today: date) -> Keeps:
    """Return what keeps an instrument in, as far as it decides who could have it."""
    if instrument.whereabouts in BENCH:
        return Keeps.BENCH
    if instrument.whereabouts == Whereabouts.WITH_STUDENT:
        return Keeps.OUT
    if instrument.whereabouts != Whereabouts.IN_STORE:
        return Keeps.OTHER
    against = keeps_in(instrument, today=today)
    if not against and instrument.readiness in MAY_GO:
        return Keeps.NOTHING
    return Keeps.CLEANING if against == {HYGIENE} else Keeps.OTHER


def misses_of(fits: Iterable[LevelFit]) -> dict[str, str]:
    """Return what each level would miss; a level that the kind states no notes for goes by the first year."""
    known = {fit.level: fit for fit in fits}
    found = {level: known.get(level) or known.get(FIRST) for level in LEVELS}
    return {level: fit.misses for level, fit in found.items() if fit is not None and not fit.is_enough}


def lines_of(assignment: Assignment) -> list[AssignmentLine]:
    """Return the lines by class, then by the students' names. One query."""
    rows = assignment.lines.select_related("student", "instrument", "period")
    return list(rows.order_by("period__place", "period__name", "period_id", *BY_NAME, "kind_code"))


def locked_assignment(school: School) -> Assignment | None:
    return Assignment.objects.locked().filter(school=school).select_related("school", "locked_by").first()


def lines_to_hand_out(students: Collection[Student]) -> dict[int, AssignmentLine]:
    """Return by student the first line of what is locked whose instrument is still to be handed out. Two queries."""
    rows = AssignmentLine.objects.filter(
        assignment__school=F("student__school"), assignment__state=Assignment.State.LOCKED, student__in=students
    ).exclude(instrument=None)
    lines = list(rows.select_related("instrument", "student").order_by("-pk"))
    troubles = troubles_of(lines, today=None)
    return {line.student_id: line for line in lines if troubles.get(line.pk, "") not in SERVED}


def assigned_instrument(student: Student) -> Instrument | None:
    """Return the instrument that is the student's by what is locked, until it is handed out; else None."""
    line = lines_to_hand_out([student]).get(student.pk)
    return line.instrument if line else None


def assigned_to(instrument: Instrument) -> Student | None:
    """Return whose the instrument is by what is locked at its school; None where it is nobody's."""
    line = (
        AssignmentLine.objects.filter(
            assignment__school=instrument.school_id, assignment__state=Assignment.State.LOCKED, instrument=instrument
        )
        .select_related("student")
        .first()
    )
    return line.student if line else None


@dataclass(frozen=True, slots=True)
class _Now:
    holder: Mapping[int, int]  # instrument -> student, of open loans
    has: frozenset[tuple[int, str]]  # students with the kinds they have out


def troubles_of(lines: Collection[AssignmentLine], *, today: date | None) -> dict[int, str]:
    """Return by line what became of it since it was made; lines that stand as they were are left out. One query.

    "lent": it is with its student. "other": it is with somebody else. "has": the student got another of the kind.
    "left": the student has left. "moved": it belongs to another school. "kept": it may not go out (with ``today``).
    """
    students = {line.student_id for line in lines}
    keys = {line.instrument_id for line in lines if line.instrument_id}
    out = Loan.objects.open()
    rows = list(
        (out.filter(student__in=students) | out.filter(instrument__in=keys)).values_list(
            "student_id", "instrument_id", "instrument__kind_code"
        )
    )
    now = _Now({pk: student for student, pk, _ in rows}, frozenset((student, kind) for student, _, kind in rows))
    found = {line.pk: _trouble(line, now, today=today) for line in lines}
    return {pk: code for pk, code in found.items() if code}


def _trouble(line: AssignmentLine, now: _Now, *, today: date | None) -> str:
    instrument, student = line.instrument, line.student
    if instrument is not None and now.holder.get(instrument.pk) == student.pk:
        return "lent"
    if student.left_on is not None or student.erased_at is not None:
        return "left"
    if (student.pk, line.kind_code) in now.has:
        return "has"
    if instrument is None:
        return ""
    if instrument.pk in now.holder:
        return "other"
    if instrument.school_id != student.school_id:
        return "moved"
    if today is not None and keeps_of(instrument, today=today) not in {Keeps.NOTHING, Keeps.CLEANING}:
        return "kept"
    return ""


def weights_now() -> dict[str, int]:
    """Return the district's figures that assignments go by, as they are kept with one."""
    return asdict(Weights.from_settings(catalog().settings))


def choices_for(line: AssignmentLine, *, today: date) -> list[dict[str, Any]]:
    """Return the instruments of the line's kind, each with what keeps it in and whose it is to be; the free first."""
    offers = offers_of(line.assignment.school, {line.kind_code}, today=today)
    planned = {
        one.instrument_id: one
        for one in line.assignment.lines.exclude(instrument=None).select_related("student").exclude(pk=line.pk)
    }
    rows = [
        {
            "instrument": row,
            "offer": offer,
            "for": planned.get(pk),
            "is_excluded": pk in line.assignment.excluded,
        }
        for pk, (row, offer) in offers.items()
    ]
    return sorted(
        rows,
        key=lambda one: (one["offer"].keeps is not Keeps.NOTHING, bool(one["for"]), one["instrument"].asset_number),
    )


def unused_for(
    assignment: Assignment, lines: Collection[AssignmentLine], *, today: date
) -> tuple[list[Instrument], list[Instrument]]:
    """Return the instruments of its kinds that may go out and are nobody's, and those that are left out."""
    offers = offers_of(assignment.school, {line.kind_code for line in lines}, today=today, also=assignment.excluded)
    used = {line.instrument_id for line in lines}
    rows = sorted(offers.values(), key=lambda one: (one[0].kind_code, one[0].asset_number))
    excluded = [row for row, _ in rows if row.pk in assignment.excluded]
    free = [row for row, offer in rows if offer.keeps is Keeps.NOTHING and row.pk not in used]
    return [row for row in free if row not in excluded], excluded
