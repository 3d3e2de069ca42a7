"""A summer of care, two repairs that did not hold, and students waiting for an instrument."""

from __future__ import annotations

from desk.demo.fleet import finish_walk, start_walk
from desk.demo.stage import Stage
from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART
from inventory.models import Finding, Instrument, Purpose, Whereabouts
from inventory.models.inspections import Closed
from inventory.services.inspecting import record_finding
from loans.models import Loan
from loans.services import change_student
from repairs.models import Job
from repairs.rules.care import intervals_for
from repairs.services.care import record_care

SCHOOL_BEHIND = "MILL"  # the school that skipped it
SUMMER_DAYS = -120
SKIP_EVERY = 4  # every so many was missed
COMEBACKS = 2
COMEBACK_DAYS = -95
WAITING = (3, 1, 2)  # students for each job's kind, in turn
AS_BEFORE = ("name", "grade", "level")


def record_summer_care(stage: Stage) -> None:
    """Record yearly care for instruments in storage at all schools but one, missing a few."""
    tech = stage.people["tech"]
    in_store = Instrument.objects.filter(whereabouts=Whereabouts.IN_STORE).exclude(school__code=SCHOOL_BEHIND)
    for number, instrument in enumerate(in_store.order_by("asset_number")):
        if number % SKIP_EVERY == SKIP_EVERY - 1:
            continue
        done_on = stage.at(SUMMER_DAYS + number % 15).date()
        at = stage.at(SUMMER_DAYS + number % 15, 14)
        for interval in intervals_for(kind=instrument.kind, options=instrument.options, catalog=catalog()):
            record_care(instrument=instrument, code=interval.code, done_on=done_on, actor=tech, at=at)


def add_comebacks(stage: Stage) -> None:
    """Find two faults repaired this summer again, now light."""
    tech, at = stage.people["tech"], stage.at(COMEBACK_DAYS, 10)
    repaired = Finding.objects.filter(
        closed_because=Closed.REPAIRED,
        closed_at__range=(stage.at(COMEBACK_DAYS - 80), at),
        instrument__whereabouts=Whereabouts.IN_STORE,
    ).exclude(fault=MISSING_PART)
    for row in repaired.select_related("instrument").order_by("pk")[:COMEBACKS]:
        draft = start_walk(stage, row.instrument, Purpose.SPOT, at=at)
        record_finding(
            inspection=draft, part=row.part, place=row.place, fault=row.fault, severity="light", detail=row.detail,
            actor=tech, at=at,
        )  # fmt: skip
        finish_walk(draft, actor=tech, at=at)


def add_waiting_students(stage: Stage) -> None:
    """Have students without an instrument wait for what is on the bench."""
    taken = set(Loan.objects.open().values_list("student", flat=True))
    jobs = Job.objects.open().select_related("instrument__school").order_by("pk")
    for job, count in zip(jobs, WAITING * 3, strict=False):
        school = job.instrument.school
        free = [student for student in stage.students.get(school.code, []) if student.pk not in taken]
        for student in free[:count]:
            taken.add(student.pk)
            as_before = {name: getattr(student, name) for name in AS_BEFORE}
            change_student(
                student=student, wants_kind=job.instrument.kind_code, actor=stage.director_of(school),
                at=stage.at(-2, 8), **as_before,
            )  # fmt: skip
