"""Plain typed functions that make rows for tests; every default passes ``full_clean()``."""

from __future__ import annotations

import itertools
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

from core.acts import service
from core.models import User
from inventory.models import Acquired, District, Inspection, Instrument, Purpose, Role, Room, School, StaffRole
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from inventory.services.registering import register_instrument
from loans.models import AgreementTerms, Guardian, Student
from loans.rules.people import contact_parts
from repairs.models import Bench

NOW = datetime(2026, 9, 14, 15, 0, tzinfo=UTC)
TODAY = date(2026, 9, 14)
PASSWORD = "valve-oil-and-patience"  # of people who exist in tests only

_count = itertools.count(1)


def make_district(**overrides: Any) -> District:
    fields: dict[str, Any] = {"name": "Test District", "asset_prefix": "TD-", "asset_digits": 4}
    fields |= {"first_steps_aside_at": NOW} | overrides  # a district at work
    district, _ = District.objects.get_or_create(pk=1, defaults=fields)
    return district


def make_school(**overrides: Any) -> School:
    make_district()
    number = next(_count)
    return School.objects.create(**({"code": f"S{number:03d}", "name": f"School {number}"} | overrides))


def make_room(**overrides: Any) -> Room:
    fields: dict[str, Any] = {"name": f"Room {next(_count)}"} | overrides
    fields.setdefault("school", None)
    fields["school"] = fields["school"] or make_school()
    return Room.objects.create(**fields)


def make_user(*roles: str, school: School | None = None, **overrides: Any) -> User:
    number = next(_count)
    fields = {"username": f"person{number}", "name": f"Person {number}"} | overrides
    user = User(**fields)
    user.set_password(PASSWORD)
    user.save()
    for role in roles:
        StaffRole.objects.create(user=user, role=role, school=school)
    return user


def make_director(school: School | None = None, **overrides: Any) -> User:
    return make_user(Role.DIRECTOR, school=school or make_school(), **overrides)


def make_instrument(**overrides: Any) -> Instrument:
    """A registered instrument, through the service; not inspected."""
    fields: dict[str, Any] = {
        "kind_code": "trumpet",
        "maker": "Plain Brass Works",
        "acquired_by": Acquired.BOUGHT,
        "serial": f"{next(_count):06d}",
        "actor": None,
        "at": NOW - timedelta(days=30),
    } | overrides
    fields["school"] = fields.get("school") or make_school()
    return register_instrument(**fields)


def make_inspection(
    *,
    instrument: Instrument,
    findings: list[tuple[str, ...]] | None = None,
    actor: User | None = None,
    purpose: str = Purpose.INTAKE,
    at: datetime = NOW,
    finish: bool = True,
) -> Inspection:
    """A walk over every part. A finding is (part, fault, severity[, place[, detail]])."""
    actor = actor or make_user(Role.TECH, school=instrument.school)
    return _inspect(instrument=instrument, findings=findings or [], actor=actor, purpose=purpose, at=at, finish=finish)


@service
def _inspect(
    *, instrument: Instrument, findings: list[tuple[str, ...]], actor: User, purpose: str, at: datetime, finish: bool
) -> Inspection:
    """The walk in one act: the state is refreshed once, which is most of what making an instrument costs."""
    draft = start_inspection(instrument=instrument, purpose=purpose, actor=actor, at=at)
    answer_safety(inspection=draft, is_safe=True, actor=actor, at=at)
    for part, fault, severity, *rest in findings:
        place, detail = (*rest, "", "")[:2]
        record_finding(
            inspection=draft, part=part, fault=fault, severity=severity, place=place, detail=detail, actor=actor, at=at
        )
    look_at_rest(inspection=draft, actor=actor, at=at)
    return finish_inspection(inspection=draft, actor=actor, at=at) if finish else draft


def make_ready_instrument(**overrides: Any) -> Instrument:
    """In store, inspected, nothing wrong: may go out."""
    instrument = make_instrument(**overrides)
    make_inspection(instrument=instrument)
    return Instrument.objects.get(pk=instrument.pk)


def make_limited_instrument(**overrides: Any) -> Instrument:
    """A trumpet that plays with limits: its third slide is seized."""
    instrument = make_instrument(**overrides)
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    return Instrument.objects.get(pk=instrument.pk)


def make_bench(**overrides: Any) -> Bench:
    fields: dict[str, Any] = {"code": f"bench{next(_count)}", "name": "Bench", "has_torch": False} | overrides
    fields["school"] = fields.get("school") or make_school()
    return Bench.objects.create(**fields)


def make_student(**overrides: Any) -> Student:
    number = next(_count)
    fields: dict[str, Any] = {"name": f"Student {number}", "grade": "6"} | overrides
    fields["school"] = fields.get("school") or make_school()
    name, contact = fields.pop("guardian_name", "A Guardian"), fields.pop("guardian_contact", "")
    student = Student(**fields)
    student.sort_name = student.sort_name or student.usual_sort_name
    student.save()
    if student.has_guardians and (name or contact):
        Guardian.objects.create(student=student, name=name, **contact_parts(contact))
    return student


def make_terms(**overrides: Any) -> AgreementTerms:
    fields: dict[str, Any] = {
        "text": "Bring it back as it was.",
        "version": next(_count),
        "written_at": NOW,
    } | overrides
    return AgreementTerms.objects.create(**fields)


def new_nonce() -> uuid.UUID:
    return uuid.uuid4()
