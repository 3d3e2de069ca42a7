"""Keeping what a fleet's condition was at the end of a month."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from core.acts import service
from core.models import User
from inventory.models import FleetMonth


@service
def keep_month(
    *, ends_on: date, sums: Mapping[int, tuple[int, Decimal, Decimal]], actor: User | None, at: datetime
) -> int:
    """Keep a month's sums by school: instruments, cost to playing condition, replacement cost. Return how many are new."""
    rows = [FleetMonth(school_id=pk, ends_on=ends_on, instruments=count, repair_amount=repair, replacement_amount=value)
            for pk, (count, repair, value) in sums.items()]  # fmt: skip
    before = FleetMonth.objects.filter(ends_on=ends_on).count()
    FleetMonth.objects.bulk_create(rows, ignore_conflicts=True)
    return FleetMonth.objects.filter(ends_on=ends_on).count() - before
