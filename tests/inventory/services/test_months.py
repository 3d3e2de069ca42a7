"""A month's end is kept once."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import FleetMonth
from inventory.services.months import keep_month
from tests.factories import NOW


@pytest.mark.django_db
def test_what_was_kept_stays_as_it_was(school):
    for amount in (10, 20):
        keep_month(ends_on=date(2026, 8, 31), sums={school.pk: (1, Decimal(amount), Decimal(100))}, actor=None, at=NOW)
    assert FleetMonth.objects.get().repair_amount == 10
