"""Who may open the pages of physical counts."""

from __future__ import annotations

from typing import Any

from inventory.models import School
from tests.inventory.count_makers import make_count
from tests.permission_matrix import Row


def counting_pk(school: School) -> tuple[Any, ...]:
    return (make_count(school=school).pk,)


def counted_pk(school: School) -> tuple[Any, ...]:
    return (make_count(school=school, is_ended=True).pk,)


def sheet(school: School) -> tuple[Any, ...]:
    return (make_count(school=school, is_signed=True).pk, "csv")


def seen_pks(school: School) -> tuple[Any, ...]:
    count = make_count(school=school)
    return (count.pk, count.sightings.earliest("pk").pk)


ROWS = {
    "desk:counts": Row("inventory.view_count", own=False),
    "desk:count-open": Row("inventory.manage_count", own=False),
    "desk:count": Row("inventory.view_count", make=counting_pk),
    "desk:count-act": Row("inventory.manage_count", make=counting_pk, method="post"),
    "desk:count-settle": Row("inventory.manage_count", make=counted_pk),
    "desk:count-undo": Row("inventory.count_instruments", make=seen_pks, method="post"),
    "desk:count-sheet": Row("inventory.view_count", make=sheet),
}
