"""Samples for tests: of eight instruments three are drawn, none of which may deviate."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from core.models import User
from inventory.models import Role, Sample, SampleItem, School
from inventory.services.samples import Plan, draw, examine
from tests.factories import NOW, make_instrument, make_school, make_user

SEED = "4fd1c0a2b9e35d77"


def make_plan(**overrides: Any) -> Plan:
    fields: dict[str, Any] = {
        "confidence": Decimal("0.9"),
        "tolerable": Decimal("0.4"),
        "expected": Decimal(0),
        "tested": ("place", "condition"),
    }
    return Plan(**(fields | overrides))


def make_sample(
    *, school: School | None = None, count: int = 8, actor: User | None = None, seed: str = SEED, **plan: Any
) -> Sample:
    """A sample of a school's fleet, to which so many instruments are added first."""
    school = school or make_school()
    for _number in range(count):
        make_instrument(school=school)
    actor = actor or make_user(Role.AUDITOR, school=school)
    return draw(school=school, plan=make_plan(**plan), seed=seed, actor=actor, at=NOW)


def examine_all(sample: Sample, *, result: str = "as_recorded", note: str = "", actor: User | None = None) -> None:
    for item in SampleItem.objects.filter(sample=sample):
        examine(item=item, result=result, note=note, actor=actor or sample.drawn_by, at=NOW)
