from __future__ import annotations

from typing import Any

from inventory.models import School
from repairs.services.care import record_care
from tests.factories import NOW, TODAY, make_ready_instrument, make_user
from tests.permission_matrix import Row


def class_set(school: School) -> tuple[Any, ...]:
    return (make_ready_instrument(school=school).school.code, "trumpet")


def care_pk(school: School) -> tuple[Any, ...]:
    row = record_care(
        instrument=make_ready_instrument(school=school), code="piston_oil", done_on=TODAY, actor=make_user(), at=NOW
    )
    return (row.pk,)


def a_kind(school: School) -> tuple[Any, ...]:
    return ("trumpet",)


VIEW, RECORD = "repairs.view_care", "repairs.record_care"

ROWS = {
    "repairs:learning": Row("repairs.view_job", own=False),
    "repairs:season": Row("repairs.view_job", own=False),
    "repairs:care": Row(VIEW, own=False),
    "repairs:care-card": Row(None, make=a_kind, own=False),
    "repairs:care-day": Row(VIEW, make=class_set),
    "repairs:care-sheet": Row(VIEW, make=class_set),
    "repairs:care-done": Row(RECORD, make=class_set, method="post"),
    "repairs:withdraw-care": Row(RECORD, make=care_pk, method="post"),
}
