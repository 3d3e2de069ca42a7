"""Rows for the matrix: each builds what a URL needs in the given school and returns its arguments."""

from __future__ import annotations

from typing import Any

from inventory.models import School, Tag
from tests.factories import make_ready_instrument


def instrument_number(school: School) -> tuple[Any, ...]:
    return (make_ready_instrument(school=school).asset_number,)


def tag_token(school: School) -> tuple[Any, ...]:
    return (Tag.objects.live().get(instrument=make_ready_instrument(school=school)).token,)
