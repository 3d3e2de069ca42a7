"""Which months' ends are still to be kept, and the sums of one."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta
from decimal import Decimal

from django.utils import timezone

from core.days import add_months
from core.models import Event
from desk.selectors.value import fleet_value
from inventory.models import FleetMonth
from inventory.selectors.past import AsOf

MOST = 60  # months back


def month_end(day: date) -> date:
    return day.replace(day=monthrange(day.year, day.month)[1])


def months_to_keep(*, today: date) -> list[date]:
    """Return the last days of the months that are over, since the records begin, of which nothing was kept."""
    first = Event.objects.order_by("number").values_list("at", flat=True).first()
    if first is None:
        return []
    last = today.replace(day=1) - timedelta(days=1)
    begins = max(month_end(timezone.localdate(first)), month_end(add_months(last, -MOST + 1)))
    kept = set(FleetMonth.objects.order_by().values_list("ends_on", flat=True).distinct())
    ends, day = [], begins
    while day <= last:
        ends.append(day)
        day = month_end(day + timedelta(days=1))
    return [end for end in ends if end not in kept]


def month_sums(ends_on: date) -> dict[int, tuple[int, Decimal, Decimal]]:
    """Return by school the instruments, their cost to playing condition and to replace, as known at the end of the day."""
    fleet = fleet_value(AsOf(ends_on, known_on=ends_on))
    return {pk: (sums.instruments, sums.repair, sums.replacement) for pk, sums in fleet.by_school.items()}
