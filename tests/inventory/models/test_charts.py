from __future__ import annotations

import pytest
from django.db import IntegrityError

from inventory.models import ChartConfirmation
from tests.factories import TODAY


def test_a_chart_is_confirmed_once(director):
    told = {"chart": "flute", "digest": "0" * 64, "confirmed_on": TODAY, "confirmed_by": director}
    row = ChartConfirmation(**told)
    row.full_clean()
    row.save()
    assert str(row) == "flute"
    with pytest.raises(IntegrityError):
        ChartConfirmation.objects.create(**told)
