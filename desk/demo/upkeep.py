"""What comes round and comes back: a summer of care, two repairs that did not hold, and students who wait."""

from __future__ import annotations

from desk.demo.stage import Stage
from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART
from inventory.models import Finding, Instrument, Purpose, Whereabouts
from inventory.models.inspections import Closed
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Loan
from loans.services import change_student
from repairs.models import Job
from repairs.rules.care import intervals_for
from repairs.services.care import record_care

BEHIND = "MILL"  # the school whose horns nobody got round to
SUMMER_DAYS = -120
EVERY = 4  # one horn in so many was missed
COMES_BACK = 2
COMES_BACK_DAYS = -95
WAITING = (3, 1, 2)  # students for the kinds on the bench, in turn


def look_after_the_fleet(stage: Stage) -> None:
    """Give the horns in store at all schools but one their yearly care, and miss a few."""
    tech = stage.people["tech"]
    held = Instrument.objects.filter(whereabouts=Whereabouts.IN_STORE).exclude(school__code=BEHIND)
    for number, horn in enumerate(held.order_by("asset_number")):
        if number % EVERY == EVERY - 1:
            continue
        done_on = stage.at(SUMMER_DAYS + number % 15).date()
        at = stage.at(SUMMER_DAYS + number % 15, 14)
        for interval in intervals_for(kind=horn.kind, options=horn.options, catalog=catalog()):
            record_care(instrument=horn, code=interval.code, done_on=done_on, actor=tech, at=at)


def come_back(stage: Stage) -> None:
    """Find two faults of this summer's repairs again, slightly."""
    tech, at = stage.people["tech"], stage.at(COMES_BACK_DAYS, 10)
    repaired = Finding.objects.filter(
        closed_because=Closed.REPAIRED,
        closed_at__range=(stage.at(COMES_BACK_DAYS - 80), at),
        instrument__whereabouts=Whereabouts.IN_STORE,
    ).exclude(fault=MISSING_PART)
    for row in repaired.select_related("instrument").order_by("pk")[:COMES_BACK]:
        draft = start_inspection(instrument=row.instrument, purpose=Purpose.SPOT, actor=tech, at=at)
        answer_safety(inspection=draft, is_safe=True, actor=tech, at=at)
        record_finding(
            inspection=draft,
            part=row.part,
            place=row.place,
            fault=row.fault,
            severity="light",
            detail=row.detail,
            actor=tech,
            at=at,
        )
        look_at_rest(inspection=draft, actor=tech, at=at)
        finish_inspection(inspection=draft, actor=tech, at=at)


def let_some_wait(stage: Stage) -> None:
    """Mark students without an instrument as waiting for what lies on the bench."""
    taken = set(Loan.objects.open().values_list("student", flat=True))
    jobs = Job.objects.open().select_related("instrument__school").order_by("pk")
    for job, count in zip(jobs, WAITING * 3, strict=False):
        school = job.instrument.school
        free = [student for student in stage.students.get(school.code, []) if student.pk not in taken]
        for student in free[:count]:
            taken.add(student.pk)
            change_student(
                student=student,
                name=student.name,
                grade=student.grade,
                guardian_name=student.guardian_name,
                guardian_contact=student.guardian_contact,
                level=student.level,
                wants_kind=job.instrument.kind_code,
                actor=stage.director_of(school),
                at=stage.at(-2, 8),
            )
