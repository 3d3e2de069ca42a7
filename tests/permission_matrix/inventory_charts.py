from __future__ import annotations

from typing import Any

from inventory.models import School
from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number


def flute(school: School) -> tuple[Any, ...]:
    return ("flute",)


ROWS = {
    "inventory:charts": Row("inventory.view_instrument", own=False),
    "inventory:chart": Row("inventory.view_instrument", make=flute, own=False),
    "inventory:confirm-chart": Row("inventory.confirm_chart", make=flute, method="post", own=False),
    "inventory:withdraw-chart": Row("inventory.confirm_chart", make=flute, method="post", own=False),
    "inventory:trend": Row("inventory.view_instrument", make=instrument_number),
}
