from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Figure
from tests.factories import NOW


@pytest.mark.django_db
def test_of_two_values_for_one_day_the_later_comes_last():
    for value, day in (("40", date(2026, 9, 20)), ("35", date(2026, 9, 14)), ("45", date(2026, 9, 20))):
        Figure.objects.create(key="bench_rate_amount", value=value, effective_on=day, set_at=NOW)
    assert [row.value for row in Figure.objects.all()] == ["35", "40", "45"]
    assert str(Figure.objects.first()) == "bench_rate_amount from 2026-09-14"
